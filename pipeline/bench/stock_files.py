"""The two files that taking stock writes, and the way back: each change whole on the disk, or not at all."""

from pathlib import Path

from pipeline.unit import UnitError
from pipeline.unit.faults import Faults
from pipeline.unit.files import PARTS, TOML
from pipeline.unit.lists import BYTE_ORDER_MARK, text_of
from pipeline.writing.files import write_all

Texts = dict[str, str]


class StockFiles:
    """parts.csv and unit.toml of a folder as texts; a byte-order mark stays where there was one."""

    def __init__(self, folder: Path):
        self.folder = folder
        self._former: list[tuple[str, Texts, Texts]] = []

    def texts(self) -> Texts:
        """What both files hold now: they may be edited beside this. Raises UnitError where one cannot be read."""
        return {name: self._text(name) for name in (PARTS, TOML)}

    def _text(self, name: str) -> str:
        faults = Faults(self.folder / name)
        if not faults.path.exists():
            return ""
        text = text_of(faults)
        if text is None:
            raise UnitError(*faults.told())
        return text

    def write(self, texts: Texts) -> None:
        """Write what has changed, both files or none."""
        now = self.texts()
        changed = {self.folder / name: self._mark(name) + text.encode() for name, text in texts.items()
                   if text != now[name]}
        if changed:
            write_all(changed, force=True)

    def _mark(self, name: str) -> bytes:
        path = self.folder / name
        marked = path.is_file() and path.read_bytes().startswith(BYTE_ORDER_MARK)
        return BYTE_ORDER_MARK if marked else b""

    def remember(self, what: str, before: Texts) -> None:
        """Note what was changed just now, and what stood there before it."""
        self._former.append((what, before, self.texts()))

    def back(self) -> str:
        """Undo the last change; what it was of. Raises ValueError where there is none, or another has written."""
        if not self._former:
            raise ValueError("nothing to undo since this began; `drop REF` takes a part out")
        what, before, after = self._former[-1]
        now = self.texts()
        if now != after:
            name = PARTS if now[PARTS] != after[PARTS] else TOML
            raise ValueError(f"{name} was changed by another program since: nothing is undone")
        self._former.pop()
        self.write(before)
        return what
