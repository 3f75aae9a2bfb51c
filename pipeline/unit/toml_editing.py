"""A unit.toml as its file stands: keys and tables set and taken out, all else left as it was typed, remarks too.

tomlkit is imported here alone, and only when something is written: reading a unit does without it.
"""

import re
from collections.abc import Iterator, Mapping
from typing import Any

import tomli

from pipeline.textfile import printable
from pipeline.unit.places import folded

Values = Mapping[str, Any]
DEFAULT_SUPPLY = "B+"
_LONE = re.compile(r"(?m)^(\s*)\[\s*(supply|winding|string|stage)\s*\](?=\s*(?:#|$))")
_CLOSE = re.compile(r"(?m)(^[^#\n\[]*\S.*)\n(?=\[)")
_WIDE = re.compile(r"\n{3,}(?=\[)")
_HEADER = re.compile(r"\s*(?:#\s*)?\[")
"""The header of a table, or one that a remark shows."""


class EditedToml:
    """The tables of a unit.toml; `text` writes them back. Raises ValueError where the text is no TOML."""

    def __init__(self, text: str):
        try:
            self._data = tomli.loads(text)
        except (ValueError, RecursionError) as error:
            raise ValueError(f"unit.toml cannot be read: {printable(str(error))}: mend it first") from None
        self.text = text

    @property
    def data(self) -> dict[str, Any]:
        """What the text says, as plain dictionaries and lists."""
        return self._data

    def tables(self, name: str) -> list[dict[str, Any]]:
        """The tables of that name, a lone one too."""
        found = self._data.get(name, [])
        return [found] if isinstance(found, dict) else [t for t in found if isinstance(t, dict)]

    def supplies(self) -> Iterator[tuple[str, dict[str, Any]]]:
        """(id, table) of each supply."""
        return ((str(table.get("id", DEFAULT_SUPPLY)), table) for table in self.tables("supply"))

    def supply_of(self, node: str) -> str | None:
        """The supply whose node it is."""
        return next((id_ for id_, table in self.supplies() for each in table.get("node", [])
                     if folded(str(each.get("id", ""))) == folded(node)), None)

    def top(self, values: Values) -> None:
        """Set the keys above all tables; one that is None goes."""
        self._uncomment("", 0, values)
        document = _parsed(self.text)
        _put(document, values)
        self._keep(document)

    def put(self, name: str, index: int | None, values: Values) -> None:
        """Set keys of the `index`-th table of that name, or of a new one at the end; a key that is None goes."""
        if index is None and len(self.tables(name)) == 1:
            self.text = _LONE.sub(lambda m: f"{m[1]}[[{name}]]" if m[2] == name else m[0], self.text)
        if index is not None:
            self._uncomment(name, index, values)
        document = _parsed(self.text)
        if index is None:
            _append(document, name, values)
        else:
            _put(_table(document, name, index), values)
        self._keep(document)

    def put_node(self, supply: int, index: int | None, values: Values) -> None:
        """Set keys of a node of the `supply`-th supply, or add one as its last."""
        if index is not None:
            before = sum(len(table.get("node", [])) for table in self.tables("supply")[:supply])
            self._uncomment("supply.node", before + index, values)
        document = _parsed(self.text)
        table = _table(document, "supply", supply)
        if index is None:
            _append(table, "node", values)
        else:
            _put(_table(table, "node", index), values)
        self._keep(document)

    def drop(self, name: str, index: int, node: int | None = None) -> None:
        """Take out a table, or a node of a supply."""
        document = _parsed(self.text)
        holder, key, at = (document, name, index) if node is None else (_table(document, name, index), "node", node)
        if isinstance(holder[key], dict) or len(holder[key]) == 1:
            del holder[key]
        else:
            del holder[key][at]
        self._keep(document)

    def _keep(self, document: Any) -> None:
        """Take over what was changed; raises ValueError where it would not be read as it was meant."""
        text = _spaced(document.as_string(), self.text)
        try:
            data = tomli.loads(text)
        except ValueError:
            data = {}
        if data != document.unwrap():
            raise ValueError("unit.toml is written in a way that cannot be changed from here: change it by hand")
        self.text, self._data = text, data

    def _uncomment(self, path: str, index: int, values: Values) -> None:
        """Take the # from lines such as `# amps = 3.0   # its rating`, of keys that are now set."""
        lines = self.text.split("\n")
        start = _start_of(lines, path, index)
        for number in range(start, len(lines)) if start is not None else ():
            if _HEADER.match(lines[number]):
                break
            match = re.match(r"#\s?(([A-Za-z_]+)\s*=.*)$", lines[number])
            if match and values.get(match[2]) is not None and not self._has(path, index, match[2]) and _reads(match[1]):
                lines[number] = match[1].replace(" #", "   #", 1)
        self.text = "\n".join(lines)
        self._data = tomli.loads(self.text)

    def _has(self, path: str, index: int, key: str) -> bool:
        every = {"": [self._data], "supply.node": [n for t in self.tables("supply") for n in t.get("node", [])]}
        found = every[path] if path in every else self.tables(path)
        return index < len(found) and key in found[index]


def _spaced(text: str, before: str) -> str:
    """The text with one blank line before each table's header, unless it was written closer than that before."""
    if not _CLOSE.search(before):
        text = _CLOSE.sub(r"\1\n\n", text)
    return text if _WIDE.search(before) else _WIDE.sub("\n\n", text)


def _start_of(lines: list[str], path: str, index: int) -> int | None:
    """The line below the header of the `index`-th table of that path; the first line for the keys above all."""
    if not path:
        return 0
    header = re.compile(rf"\s*\[\[?\s*{re.escape(path)}\s*\]\]?")
    found = [number for number, line in enumerate(lines) if header.match(line)]
    return found[index] + 1 if index < len(found) else None


def _reads(line: str) -> bool:
    try:
        return bool(tomli.loads(line))
    except ValueError:
        return False


def _parsed(text: str) -> Any:
    import tomlkit
    from tomlkit.exceptions import TOMLKitError

    try:
        return tomlkit.parse(text)
    except TOMLKitError as error:
        raise ValueError(f"unit.toml cannot be changed from here: {printable(str(error))}") from None


def _table(holder: Any, name: str, index: int) -> Any:
    found = holder[name]
    return found if isinstance(found, dict) else found[index]


def _put(table: Any, values: Values) -> None:
    """Set and take out keys; a new one follows the last that is there, before remarks that stand at the end."""
    for key, value in values.items():
        if value is None:
            table.pop(key, None)
        elif key in table:
            table[key] = _item(value)
        else:
            body = (table if hasattr(table, "body") else table.value).body  # a document is its own container
            last: list[Any] = []
            while body and body[-1][0] is None and len(body) > 1:
                last.insert(0, body.pop())
            table[key] = _item(value)
            body.extend(last)


def _append(holder: Any, name: str, values: Values) -> None:
    """Add a table of that name: among its like, be they headed or written in braces, or as the first of them."""
    import tomlkit
    from tomlkit.items import AoT, Array

    found = holder.get(name)
    in_braces = isinstance(found, Array) or type(holder).__name__ == "InlineTable"
    made = tomlkit.inline_table() if in_braces else tomlkit.table()
    for key, value in values.items():
        if value is not None:
            made[key] = _item(value)
    if in_braces and found is None:
        holder[name] = tomlkit.array()
        found = holder[name]
    if in_braces:
        found.append(made)
        return
    made.trivia.indent = "\n"
    if found is None:
        every = tomlkit.aot()
        every.append(made)
        holder.append(name, every)
    elif isinstance(found, AoT):
        found.append(made)
    else:
        raise ValueError(f"unit.toml writes {name} in a way that cannot be added to from here: add it by hand")


def _item(value: Any) -> Any:
    """A value as one would type it: whole numbers without a point, a list on one line."""
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e9:
        return int(value)
    return float(f"{value:.6g}") if isinstance(value, float) else list(value) if isinstance(value, tuple) else value
