"""Shared fixtures: the built catalogue, demo units, a unit made on the spot, and outside tools."""

from pathlib import Path

import pytest
from support import ROOT


@pytest.fixture(scope="session")
def catalogue():
    """The committed catalogue."""
    from pipeline.catalogue import Catalogue

    return Catalogue(ROOT / "data_built")


@pytest.fixture
def make_unit(tmp_path):
    """A unit folder from TOML text and parts lines (header added)."""

    def make(toml: str, parts: str, header: str = "ref,marking,role,at,measured,note") -> Path:
        folder = tmp_path / "unit"
        folder.mkdir(exist_ok=True)
        (folder / "unit.toml").write_text(toml, encoding="utf-8")
        (folder / "parts.csv").write_text(f"{header}\n{parts.strip()}\n", encoding="utf-8")
        return folder

    return make
