"""TOML with the line of every key, so that a fault in a value can be pointed at."""

import re
import tomllib
from collections.abc import Iterable, Iterator
from typing import Any, NoReturn

from pipeline.textfile import hint, printable

_TABLE = re.compile(r"^\s*\[\[?\s*([A-Za-z0-9_.-]+)\s*\]\]?")
_KEY = re.compile(r"^\s*\"?([A-Za-z0-9_-]+)\"?\s*=")
_MISSING = object()
_MOST_LETTERS, _MOST_POINTS = 1_000_000, 200


class TomlFault(Exception):
    """A key's value is not what it must be; `line` is where it stands."""

    def __init__(self, line: int, message: str):
        self.line = line
        super().__init__(message)


class TomlFile:
    """A parsed TOML text; raises tomllib.TOMLDecodeError, which names a line, for what is no TOML."""

    def __init__(self, text: str):
        self.data = _parsed(text)
        self._lines = _key_lines(text)

    def has(self, path: str) -> bool:
        return path in self.data

    def line(self, path: str, index: int, key: str | None = None) -> int:
        """Line of `key` in the `index`-th table named `path`, or of the table itself."""
        return self._lines.get((path, index, key)) or self._lines.get((path, index, None)) or 1

    def table(self, path: str, keys: str) -> "Section":
        """The table `path` (empty: the top level) that may hold `keys`."""
        return Section(self, path, 0, self.data if not path else self.data[path], keys.split())

    def tables(self, path: str, keys: str) -> Iterator["Section"]:
        """The tables of the array `path`, each of which may hold `keys`."""
        found: Any = self.data
        for step in path.split("."):
            found = found.get(step, []) if isinstance(found, dict) else []
        if not isinstance(found, list):
            raise TomlFault(self.line(path, 0), f"[{path}]: must be written with double brackets, [[{path}]]")
        for index, data in enumerate(found):
            yield Section(self, path, index, data, keys.split())


def _parsed(text: str) -> dict[str, Any]:
    lines = text.split("\n")
    last = len(lines) - text.endswith("\n")
    if len(text) > _MOST_LETTERS:
        raise _error("a file of more than a million letters", last)
    if deep := next((n for n, line in enumerate(lines, 1) if line.count(".") > _MOST_POINTS), None):
        raise _error(f"more than {_MOST_POINTS} points on one line", deep)  # tomllib takes minutes for long a.b.c
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        said = str(error)
        if "at line " in said:
            raise
        raise _error(said.split(" (at")[0], last) from None
    except RecursionError:
        raise _error("brackets nested too deep", last) from None
    except ValueError:  # a whole number of thousands of digits, which Python refuses to read
        longest = max(range(len(lines)), key=lambda n: len(lines[n]))
        raise _error("a number with too many digits", longest + 1) from None


def _error(what: str, line: int) -> tomllib.TOMLDecodeError:
    return tomllib.TOMLDecodeError(f"{what} (at line {max(line, 1)}, column 1)")


def _key_lines(text: str) -> dict[tuple[str, int, str | None], int]:
    lines: dict[tuple[str, int, str | None], int] = {}
    path, count = "", {"": 0}
    for number, line in enumerate(text.split("\n"), 1):  # other line ends are none in TOML
        if match := _TABLE.match(line):
            path = match[1]
            count[path] = count.get(path, -1) + 1
            lines[path, count[path], None] = number
        elif match := _KEY.match(line):
            lines.setdefault((path, count[path], match[1]), number)
    return lines


class Section:
    """One table of a TOML file, its values asked for by kind; each wrong one raises TomlFault."""

    def __init__(self, file: TomlFile, path: str, index: int, data: Any, keys: list[str]):
        self.file, self.path, self.index = file, path, index
        if not isinstance(data, dict):
            raise TomlFault(file.line(path, index), f"{path}: must be a table, [{path}]")
        self.data: dict[str, Any] = data
        for key in data:
            if key not in keys:
                self.fault(key, "is no key here", hint(key, keys, "known: " + ", ".join(keys)))

    def fault(self, key: str, what: str, mend: str) -> NoReturn:
        shown = printable(key[:40])
        where = f"{self.path}.{shown}" if self.path else shown
        raise TomlFault(self.file.line(self.path, self.index, key), f"{where}: {what}: {mend}")

    def text(self, key: str, default: Any = _MISSING) -> Any:
        value = self.data.get(key, default)
        if value is _MISSING or value == "":
            self.fault(key, "is missing", f'write {key} = "..."')
        if value is not default and (not isinstance(value, str) or len(value) > 200 or not value.isprintable()):
            self.fault(key, f"{_shown(value)!r} is no short text", "write it in double quotes")
        return value

    def number(self, key: str, low: float, high: float, default: Any = _MISSING) -> float:
        value = self.data.get(key, default)
        if value is _MISSING:
            self.fault(key, "is missing", f"give a number between {low:g} and {high:g}")
        if isinstance(value, str):
            self.fault(key, f"{value[:40]!r} is text", "write a plain number without quotation marks or unit")
        if isinstance(value, bool) or not isinstance(value, int | float) or value != value:
            self.fault(key, f"{_shown(value)!r} is no number", f"give a number between {low:g} and {high:g}")
        if not low <= value <= high:
            self.fault(key, f"{_shown(value)} cannot be right", f"expected {low:g} to {high:g}")
        return float(value)

    def optional(self, key: str, low: float, high: float) -> float | None:
        return self.number(key, low, high) if key in self.data else None

    def choice(self, key: str, words: tuple[str, ...], default: Any = _MISSING) -> str:
        value = str(self.text(key, default)).strip().lower().replace("_", "-").replace(" ", "-")
        for word in words:
            if value == word.replace(" ", "-"):
                return word
        self.fault(key, f"{value[:40]!r} is not known", "one of " + ", ".join(words))

    def ref(self, key: str, parts: Iterable[str]) -> str | None:
        return self._known(key, self.text(key), list(parts)) if key in self.data else None

    def refs(self, key: str, parts: Iterable[str], *, sections: bool = False) -> tuple[str, ...]:
        """Refs of parts; with `sections` also a part's ref and a section letter, C1A."""
        value = self.data.get(key, [])
        if not isinstance(value, list) or not all(isinstance(v, str) for v in value):
            self.fault(key, "must be a list of refs", f'write {key} = ["C1", "C2"]')
        known = list(parts)
        return tuple(v if sections and v[:-1] in known and v[-1:].isupper() else self._known(key, v, known)
                     for v in value)

    def _known(self, key: str, ref: str, known: list[str]) -> str:
        if ref not in known:
            self.fault(key, f"no part {ref[:40]!r} in parts.csv", hint(ref, known, "add it there"))
        return ref


def _shown(value: Any) -> str:
    """The first figures or letters of a value, whatever it is."""
    try:
        return str(value)[:40]
    except (ValueError, RecursionError):  # thousands of digits, thousands of tables one within the other
        return "something very large"
