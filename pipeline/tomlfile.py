"""TOML with the line of every key, so that a fault in a value can be pointed at."""

import math
import re
from collections.abc import Iterator, Sequence
from difflib import get_close_matches
from typing import Any

import tomli  # the standard library's reader by its own author, compiled: it takes a seventh of the time

from pipeline.textfile import printable

_TABLE = re.compile(r"^\s*\[\[?\s*([A-Za-z0-9_.-]+)\s*\]\]?")
_KEY = re.compile(r"^\s*\"?([A-Za-z0-9_-]+)\"?\s*=")
_MISSING = object()
_MOST_LETTERS, _MOST_POINTS = 1_000_000, 200


class TomlFile:
    """A parsed TOML text; raises tomli.TOMLDecodeError, which names a line, for what is no TOML.

    What is wrong with its values is gathered in `faults`, so that all of it is told in one run: a value that is
    asked for and wrong comes as one that nothing is wrong with further on, an empty text or not-a-number.
    """

    def __init__(self, text: str):
        self.data = _parsed(text)
        self.faults: list[tuple[int, str]] = []
        self.lost = False
        """Whether tables could not be read, so that what they define is not known."""
        self._lines = _key_lines(text)
        self._given: dict[str, int] = {}

    def line(self, path: str, index: int, key: str | None = None) -> int:
        """Line of `key` in the `index`-th table named `path`, of the table of that name within it, or of itself."""
        inner = f"{path}.{key}" if path else key or ""
        places: tuple[tuple[str, int, str | None], ...] = ((path, index, key), (inner, 0, None), (path, index, None))
        return next((self._lines[place] for place in places if place in self._lines), 1)

    def top(self, keys: str) -> "Section":
        """The keys above all tables, and the tables' own names."""
        return Section(self, "", 0, self.data, keys.split())

    def tables(self, path: str, found: Any, keys: str, *, single: bool = False) -> Iterator["Section"]:
        """The tables of an array of tables, each of which may hold `keys`; with `single` also one lone table."""
        if single and isinstance(found, dict):
            found = [found]
        if not isinstance(found, list):
            self.faults.append((self.line(path, 0), f"[{path}]: must be written with double brackets, [[{path}]]"))
            self.lost = True
            return
        for data in found:
            index = self._given[path] = self._given.get(path, -1) + 1
            if isinstance(data, dict):
                yield Section(self, path, index, data, keys.split())
            else:
                self.faults.append((self.line(path, index), f"{path}: must be a table, [[{path}]]"))
                self.lost = True


def _parsed(text: str) -> dict[str, Any]:
    lines = text.split("\n")
    last = len(lines) - text.endswith("\n")
    if len(text) > _MOST_LETTERS:
        raise _error("a file of more than a million letters", last)
    if deep := next((n for n, line in enumerate(lines, 1) if line.count(".") > _MOST_POINTS), None):
        raise _error(f"more than {_MOST_POINTS} points on one line", deep)  # tomli takes minutes for long a.b.c
    try:
        return tomli.loads(text)
    except tomli.TOMLDecodeError as error:
        said = str(error)
        if "at line " in said:
            raise
        raise _error(said.split(" (at")[0], last) from None
    except RecursionError:
        raise _error("brackets nested too deep", last) from None
    except ValueError:  # a whole number of thousands of digits, which Python refuses to read
        longest = max(range(len(lines)), key=lambda n: len(lines[n]))
        raise _error("a number with too many digits", longest + 1) from None


def _error(what: str, line: int) -> tomli.TOMLDecodeError:
    return tomli.TOMLDecodeError(f"{what} (at line {max(line, 1)}, column 1)")


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
    """One table of a TOML file, its values asked for by kind; each wrong one is noted among the file's faults."""

    def __init__(self, file: TomlFile, path: str, index: int, data: dict[str, Any], keys: list[str]):
        self.file, self.path, self.index, self.data = file, path, index, data
        self._slips: list[str] = []
        for key in data:
            if key not in keys:
                self._unknown(key, keys)

    def _unknown(self, key: str, keys: list[str]) -> None:
        """Note a key that is none; the one it was meant for is then no longer missing."""
        near = get_close_matches(key, keys, 1, 0.5)
        self._slips += near
        self.file.lost |= isinstance(self.data[key], dict | list)
        self.fault(key, "is no key here", f"did you mean {near[0]}?" if near else "known: " + ", ".join(keys))

    def slip(self, meant: str | None) -> None:
        """Take a key as given, whose value stands under another that is noted already."""
        self._slips += [meant] if meant else []

    def missing(self, key: str, mend: str) -> None:
        """Note that a key is not there, unless a slip of it is noted already."""
        if key not in self._slips:
            self.fault(key, "is missing", mend)

    @property
    def line(self) -> int:
        return self.file.line(self.path, self.index)

    def fault(self, key: str, what: str, mend: str) -> None:
        """Note what is wrong with a key's value, with its line."""
        shown = printable(key[:40])
        where = f"{self.path}.{shown}" if self.path else shown
        self.file.faults.append((self.file.line(self.path, self.index, key), f"{where}: {what}: {mend}"))

    def tables(self, key: str, keys: str, *, single: bool = False) -> Iterator["Section"]:
        """The tables of the array `key` within this one, each of which may hold `keys`."""
        path = f"{self.path}.{key}" if self.path else key
        return self.file.tables(path, self.data.get(key, []), keys, single=single)

    def text(self, key: str, default: Any = _MISSING, most: int = 200) -> Any:
        """A short text; the default where there is none, an empty text where it is wrong."""
        value = self.data.get(key, default)
        if value is default and value is not _MISSING:
            return value
        if value is _MISSING or value == "":
            self.missing(key, f'write {key} = "..."')
            return ""
        if not isinstance(value, str):
            self.fault(key, f"{shown(value)!r} is no text", "write it in double quotes")
        elif len(value) > most or not value.isprintable():
            what = "is no short text" if len(value) > most else "holds what does not print"
            self.fault(key, f"{printable(value[:40])!r} {what}", f"write at most {most} letters that print")
        elif value.strip():
            return value.strip()
        else:
            self.fault(key, "is empty", f'write {key} = "..."')
        return ""

    def texts(self, key: str) -> tuple[str, ...]:
        """One text, or a list of them; empty where there is none or it is wrong."""
        value = self.data.get(key, [])
        if isinstance(value, str):
            value = [value]
        if not isinstance(value, list) or not all(isinstance(v, str) and v.strip() and len(v) <= 200 for v in value):
            self.fault(key, "must be a list of refs", f'write {key} = ["C1", "C2"]')
            return ()
        return tuple(v.strip() for v in value)

    def number(self, key: str, low: float, high: float, default: Any = _MISSING, mend: str = "") -> float:
        """A number within its bounds; the default where there is none, not-a-number where it is wrong.

        `mend` is said in place of the bounds where the value lies outside of them.
        """
        value = self.data.get(key, default)
        if value is default and value is not _MISSING:
            return value
        if value is _MISSING:
            self.missing(key, f"give a number between {low:g} and {high:g}")
        elif isinstance(value, str):
            said = printable(value[:40])
            self.fault(key, f"{said!r} is text", "write a plain number without quotation marks or unit")
        elif isinstance(value, bool) or not isinstance(value, int | float) or value != value:
            self.fault(key, f"{shown(value)!r} is no number", f"give a number between {low:g} and {high:g}")
        elif not low <= value <= high:
            self.fault(key, f"{shown(value)} cannot be right", mend or f"expected {low:g} to {high:g}")
        else:
            return float(value)
        return math.nan

    def optional(self, key: str, low: float, high: float, mend: str = "") -> float | None:
        return self.number(key, low, high, mend=mend) if key in self.data else None

    def amps(self, key: str, low: float, high: float) -> float | None:
        """Amperes, where they are given; above the bounds they are likely milliamperes."""
        value = self.data.get(key)
        typed = isinstance(value, int | float) and not isinstance(value, bool) and high < value <= 1000 * high
        return self.optional(key, low, high, f"amperes are asked for: did you mean {value / 1000:g} "
                             f"({value:g} mA)?" if typed and value is not None else "")

    def choice(self, key: str, words: tuple[str, ...], default: Any = _MISSING) -> str:
        """One of the words, hyphens and capitals forgiven; an empty text where it is none of them."""
        given = self.text(key, default)
        value = str(given).strip().lower().replace("_", "-").replace(" ", "-")
        for word in words:
            if value == word.replace(" ", "-"):
                return word
        if given:
            self.fault(key, f"{printable(value[:40])!r} is not known", "one of " + ", ".join(words))
        return ""


def too_many(sections: Sequence[Section], most: int, what: str) -> None:
    """Note, at the first table beyond the most there can be, that there are too many."""
    if len(sections) > most:
        sections[most].fault("id", f"more than {most} {what}", "is this one unit's file?")


def shown(value: Any) -> str:
    """The first figures or letters of a value, whatever it is."""
    try:
        return printable(str(value)[:40])
    except (ValueError, RecursionError):  # thousands of digits, thousands of tables one within the other
        return "something very large"
