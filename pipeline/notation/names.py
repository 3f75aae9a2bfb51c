"""Names of types, made comparable: one key for every way to write one designation."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from typing import Any, NamedTuple

# Cyrillic letters, transliterated as on export bulbs, and the Latin letters that look the same.
SOUNDS = {
    "А": "A", "Б": "B", "В": "V", "Г": "G", "Д": "D", "Е": "E", "Ж": "ZH", "З": "Z", "И": "I", "К": "K", "Л": "L",
    "М": "M", "Н": "N", "О": "O", "П": "P", "Р": "R", "С": "S", "Т": "T", "У": "U", "Ф": "F", "Х": "KH", "Ц": "TS",
    "Ч": "CH", "Ш": "SH", "Э": "E", "Ю": "YU", "Я": "YA",
}  # fmt: skip
LOOKS = dict(zip("АВЕЗІКМНОРСТУХЅЈ", "ABE3IKMHOPCTYXSJ", strict=True))
_LOOKED = str.maketrans(LOOKS)
_DROPPED = re.compile(r"[\s\-/._()'\"]+")

_MOST_KEPT = 4096  # answers about names that are not known


SAME = "same"
"""The nearness of a name that stands for the very type."""
OTHER_BASE = "other base"
"""The nearness of a name whose tube has every figure of the type and another base."""


class Entry(NamedTuple):
    """A known name: the catalogue type, its naming system or '', the name as printed, how near it is."""

    type: str
    system: str
    printed: str
    nearness: str = SAME


def normal(name: str) -> str:
    """Return the key of a name: upper case, without blanks, hyphens, slashes, points, brackets."""
    return (name if name.isalnum() else _DROPPED.sub("", name)).upper()


def spoken(key: str) -> str:
    """Transliterate Cyrillic letters: 6Н8С becomes 6N8S, 6Ж8 becomes 6ZH8."""
    return "".join(SOUNDS.get(char, char) for char in key)


def looked(key: str) -> str:
    """Replace Cyrillic letters by the Latin ones that look the same: 6Н8С becomes 6H8C."""
    return key.translate(_LOOKED)


def plain_figures(key: str) -> str:
    """Read letters O and I as the figures they are mistaken for: OA2 becomes 0A2."""
    return key.replace("O", "0").replace("I", "1")


class Index:
    """Known names by key, and by the keys a slip of the eye makes of them.

    Build it once with `index` where many markings are read.
    """

    def __init__(self) -> None:
        self._exact: dict[str, list[Entry]] = {}
        self._by_slip: dict[Callable[[str], str], dict[str, list[Entry]]] = {}
        self._near: dict[tuple[str, int], tuple[str, ...]] = {}

    def add(self, entry: Entry) -> None:
        """Add one name; a second type of it is kept beside the first."""
        self.fill([(normal(entry.printed), entry)])

    def fill(self, named: Iterable[tuple[str, Entry]]) -> None:
        """Add many names, each with its key, as `add` does."""
        for key, entry in named:
            _put(self._exact, key, entry)
        self._by_slip.clear()
        self._near.clear()

    def _slipped(self, slip: Callable[[str], str], name: str) -> list[Entry]:
        """Entries whose key after `slip` is that of the name; the table is made when it is first asked for."""
        table = self._by_slip.get(slip)
        if table is None:
            table = self._by_slip[slip] = {}
            for key, entries in self._exact.items():
                if slip is plain_figures and not key.isascii():
                    continue
                for entry in entries:
                    _put(table, slip(key), entry)
        return table.get(slip(normal(name)), [])

    def exact(self, name: str) -> list[Entry]:
        """Return the entries of a name: the catalogue's own name of a type before all, then the same type.

        Each naming system has its say: where two of them give one name to two types, both are returned.
        """
        found = self._exact.get(normal(name), [])
        own = [entry for entry in found if normal(entry.type) == normal(name)]
        if own or len(found) < 2:
            return own or found
        sure = {entry.system for entry in found if entry.nearness == SAME}
        kept = [entry for entry in found if entry.nearness == SAME or entry.system not in sure]
        return sorted(kept, key=lambda entry: entry.nearness != SAME)

    def with_figures(self, name: str) -> list[Entry]:
        """Return entries that differ from the name only in O for zero or I for one."""
        return self._slipped(plain_figures, name)

    def transliterated(self, name: str) -> list[Entry]:
        """Return entries that sound the same in Latin letters."""
        return self._slipped(spoken, name)

    def lookalike(self, name: str) -> list[Entry]:
        """Return entries whose letters look the same in Latin."""
        return self._slipped(looked, name)

    def keys(self) -> Iterator[str]:
        """Iterate over all exact keys."""
        return iter(self._exact)

    def __len__(self) -> int:
        return len(self._exact)

    def near(self, name: str, count: int = 3) -> tuple[str, ...]:
        """Return the printed names nearest to a name that is not known, nearest first."""
        key = normal(name)[:24]
        found = self._near.get((key, count))
        if found is None:
            if len(self._near) >= _MOST_KEPT:
                self._near.clear()
            found = self._near[key, count] = self._nearest(key, count)
        return found

    def _nearest(self, key: str, count: int) -> tuple[str, ...]:
        from difflib import get_close_matches  # only on failure: the import costs more than a look-up

        alike = [each for each in self._exact if abs(len(each) - len(key)) <= 2]
        found = get_close_matches(key, alike, n=count, cutoff=0.7)
        return tuple(self._exact[each][0].printed for each in found)


def _put(table: dict[str, list[Entry]], key: str, entry: Entry) -> None:
    held = table.get(key)
    if held is None:
        table[key] = [entry]
    elif all(other.type != entry.type for other in held):
        held.append(entry)


def index(names: Mapping[str, Any] | Collection[str] | Index) -> Index:
    """Build an index of names.

    Parameters
    ----------
    names : mapping, collection or Index
        Name as printed -> catalogue type, or -> (catalogue type, designation system), or -> an object
        with the attributes ``type``, ``system`` and (optional) ``nearness``.  With any other value (a
        row of ratings), or for a plain collection, the name itself is the type.
        An `Index` is returned as it is.
    """
    if isinstance(names, Index):
        return names
    result = Index()
    pairs = names.items() if isinstance(names, Mapping) else ((name, None) for name in names)
    for printed, value in pairs:
        entry = _entry(printed, value)
        result.add(entry)
        if entry.type != printed:
            result.add(Entry(entry.type, "", entry.type))
    return result


def _entry(printed: str, value: Any) -> Entry:
    if isinstance(value, str):
        return Entry(value, "", printed)
    if isinstance(getattr(value, "type", None), str):
        return Entry(value.type, value.system or "", printed, getattr(value, "nearness", None) or SAME)
    if isinstance(value, tuple) and value and all(isinstance(part, str) for part in value[:2]):
        return Entry(value[0], value[1] if len(value) > 1 else "", printed)
    return Entry(printed, "", printed)
