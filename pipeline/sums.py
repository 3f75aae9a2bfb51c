"""The checksums of a built catalogue: `SHA256SUMS`, which `sha256sum -c` reads.

Each file has its SHA-256 on a line of its own, and in a comment the CRC-32 by which reading commands hold what they are
about to read against what was built: a tenth of a millisecond for the largest table, and no single flipped bit or burst
of 32 escapes it. (DuckDB reads a damaged Parquet page without a word, checksum or not.) The first line is the digest of
what the catalogue was made from.
"""

import errno
import zlib
from collections.abc import Iterable, Mapping
from pathlib import Path

SUMS = "SHA256SUMS"
_INPUTS, _QUICK = "# inputs sha256:", "# crc32 "


class Damaged(OSError):
    """A catalogue is not as it was built: which file of it, and how to mend it."""

    def __init__(self, path: Path, what: str):
        super().__init__(errno.EIO, f"{what}: run `tubewright build`, or install it again", str(path))


def written(files: Mapping[str, bytes], inputs: str = "") -> str:
    """The text of the checksum file for `files`, made from what `inputs` is the digest of."""
    import hashlib  # readers do without it

    head = f"{_INPUTS}{inputs}\n" if inputs else ""
    quick = "".join(f"{_QUICK}{zlib.crc32(data):08x}  {name}\n" for name, data in files.items())
    return head + quick + "".join(f"{hashlib.sha256(data).hexdigest()}  {name}\n" for name, data in files.items())


class Sums:
    """What the checksum file in `folder` says; empty where there is none that can be read."""

    def __init__(self, folder: Path):
        self.folder = folder
        try:
            lines = (folder / SUMS).read_text(encoding="utf-8").splitlines()
        except (OSError, UnicodeDecodeError):
            lines = []
        self.inputs = next((x.removeprefix(_INPUTS) for x in lines if x.startswith(_INPUTS)), None)
        self.quick = _by_name(x.removeprefix(_QUICK) for x in lines if x.startswith(_QUICK))
        self.sha256 = _by_name(x for x in lines if not x.startswith("#"))

    def whole(self) -> None:
        """Raise Damaged where the checksum file or a file that it names is missing."""
        if not self.sha256 or (self.quick and self.quick.keys() != self.sha256.keys()):
            raise Damaged(self.folder / SUMS, "is missing or damaged")
        there = {path.name for path in self.folder.iterdir()} if self.folder.is_dir() else set()
        for name in self.sha256:
            if name not in there:
                raise Damaged(self.folder / name, "is missing")

    def read(self, name: str) -> bytes:
        """The bytes of a file of the catalogue; raises Damaged where they are not those that were built."""
        path = self.folder / name
        try:
            data = path.read_bytes()
        except OSError as error:
            raise Damaged(path, f"cannot be read ({error.strerror})") from None
        if name not in self.quick and name in self.sha256:  # built before there were quick ones
            import hashlib

            sound = hashlib.sha256(data).hexdigest() == self.sha256[name]
        else:
            sound = f"{zlib.crc32(data):08x}" == self.quick.get(name)
        if not sound:
            raise Damaged(path, "is damaged, or of another build")
        return data


def _by_name(lines: Iterable[str]) -> dict[str, str]:
    """File name → checksum of lines such as `1a2b3c4d  tubes.parquet`."""
    parted = (line.partition("  ") for line in lines)
    return {name: value for value, _, name in parted if name}
