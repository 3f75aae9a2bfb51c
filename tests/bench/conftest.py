"""Lets the tests of this folder share their invented units."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))
