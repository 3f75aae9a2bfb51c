"""Where units lie: a folder that holds unit folders, however deep."""

import os
from pathlib import Path

_FILES = ("unit.toml", "parts.csv")


def is_collection(folder: Path) -> bool:
    """Whether the folder is no unit itself but holds units."""
    own = any((folder / name).exists() for name in _FILES)
    return folder.is_dir() and not own and bool(unit_folders(folder))


def unit_folders(root: Path) -> list[Path]:
    """Every folder at or below `root` that holds a unit's file, hidden ones left out, in the order of their names.

    A folder that cannot be looked into is one of them: whoever reads it is told so.
    """
    found, shut = [], []
    for place, folders, files in os.walk(root, onerror=lambda error: shut.append(Path(error.filename))):
        folders[:] = sorted(f for f in folders if not f.startswith("."))
        if any(name in files for name in _FILES):
            found.append(Path(place))
    return sorted(found + shut) if shut else found


def shown_path(path: Path | str) -> str:
    """A path as text that every file and terminal takes: bytes that are no UTF-8 are escaped, `caf\\xe9`."""
    return os.fsencode(path).decode("utf-8", "backslashreplace")
