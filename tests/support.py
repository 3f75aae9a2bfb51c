"""What several tests need: the checkout's root, and outside programs."""

import os
import shutil
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]


def outside_tool(name: str) -> str:
    """Path of an outside program; skips with a reason where it is missing, fails where CI says it must be there."""
    path = shutil.which(name)
    if path is None:
        if os.environ.get("CI") == "true":
            pytest.fail(f"{name} is not installed, and in CI it must be")
        pytest.skip(f"{name} is not installed: the comparison with it is left out")
    return path
