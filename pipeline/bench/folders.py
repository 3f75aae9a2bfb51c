"""Where units lie: a folder that holds unit folders, however deep."""

import os
from pathlib import Path

_FILES = ("unit.toml", "parts.csv")


def is_collection(folder: Path) -> bool:
    """Whether the folder is no unit itself but holds units."""
    own = any((folder / name).exists() for name in _FILES)
    return folder.is_dir() and not own and bool(unit_folders(folder))


def unit_folders(root: Path) -> list[Path]:
    """Every folder at or below `root` that holds a unit's file, hidden ones left out, in the order of their names."""
    found = []
    for place, folders, files in os.walk(root):
        folders[:] = sorted(f for f in folders if not f.startswith("."))
        if any(name in files for name in _FILES):
            found.append(Path(place))
    return found
