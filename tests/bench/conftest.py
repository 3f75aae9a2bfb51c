"""Lets the tests of this folder share their invented units, and the random ones of `outside`."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))
sys.path.insert(1, str(Path(__file__).resolve().parents[1] / "outside"))
