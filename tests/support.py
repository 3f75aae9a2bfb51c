"""What several tests need: the checkout's root, and outside programs."""

import os
import shutil
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parents[1]


def some(count: int, cases: Iterable[Any]) -> list[Any]:
    """The cases of a parametrised test: the first `count` belong to the fast part, the others to the long one.

    A case is one argument, or a tuple of several; tuples that are one argument come as `zip(cases)`.
    """
    return [pytest.param(*(case if isinstance(case, tuple) else (case,)), marks=pytest.mark.long if n >= count else ())
            for n, case in enumerate(cases)]


def outside_tool(name: str) -> str:
    """Path of an outside program; skips with a reason where it is missing, fails where CI says it must be there."""
    path = shutil.which(name)
    if path is None:
        if os.environ.get("CI") == "true":
            pytest.fail(f"{name} is not installed, and in CI it must be")
        pytest.skip(f"{name} is not installed: the comparison with it is left out")
    return path
