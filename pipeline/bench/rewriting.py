"""A unit.toml as it stands, with capacitors named anew and ohms added: all else is left as it was typed."""

import re
from collections.abc import Mapping, Sequence

from pipeline.unit.places import folded

_LIST = re.compile(r"(?m)^(?P<before>[^#\n]*?\bcapacitors\s*=\s*)(?P<value>\[[^\]]*\]|\"[^\"\n]*\"|'[^'\n]*')")
_TEXT = re.compile(r"\"([^\"\n]*)\"|'([^'\n]*)'")


def rename_capacitors(toml: str, new: Mapping[str, Sequence[str]]) -> str:
    """The text with every capacitor that `new` names written as its new names: `C1` as `C1A`, `C1B`, or `C1-1+C1-2`.

    A link of a chain gets the first of its new names; one that has none goes, and its chain with it.
    """
    names = {folded(old): list(made) for old, made in new.items()}

    def written(match: re.Match[str]) -> str:
        value = match["value"]
        found = [a or b for a, b in _TEXT.findall(value)]
        made = [name for text in found for name in _renamed(text, names)]
        return match[0] if made == found else f"{match['before']}[{', '.join(map(_quoted, made))}]"

    return _LIST.sub(written, toml)


def _renamed(text: str, names: Mapping[str, list[str]]) -> list[str]:
    if folded(text.strip()) in names:
        return names[folded(text.strip())]
    links = [names.get(folded(link.strip()), [link.strip()]) for link in text.split("+")]
    return ["+".join(link[0] for link in links)] if all(links) else []


def fed_by(toml: str, node: str, capacitors: Sequence[str]) -> str:
    """The text with these capacitors named at a node that names none: after its id."""
    listed = ", ".join(map(_quoted, capacitors))
    found = re.search(rf"(?m)^(?P<before>[^#\n]*?)\bid\s*=\s*([\"']){re.escape(node)}\2", toml)
    if found is None:
        return toml
    table = _table_end(toml, found.end())
    if own := re.compile(r"(?m)^\s*capacitors\s*=\s*\[").search(toml, found.end(), table):
        return f"{toml[:own.end()]}{listed}, {toml[own.end():]}"
    between = ", " if found["before"].strip() else "\n"
    return f"{toml[:found.end()]}{between}capacitors = [{listed}]{toml[found.end():]}"


def add_ohms(toml: str, rectifier: str, ohms: float) -> str:
    """The text with `ohms` more in series with each plate of the supply of that rectifier."""
    found = re.search(rf"(?m)^[^#\n]*?\brectifier\s*=\s*([\"'])\s*{re.escape(rectifier)}\s*\1", toml)
    if found is None:
        return toml
    begin, end = toml.rfind("\n[", 0, found.start()) + 1, _table_end(toml, found.end())
    own = re.compile(r"(?m)^(\s*added_ohm\s*=\s*)([0-9.eE+-]+)").search(toml, begin, end)
    if own is not None:
        return f"{toml[:own.start()]}{own[1]}{float(own[2]) + ohms:g}{toml[own.end():]}"
    if "{" in found[0]:
        return f"{toml[:found.end()]}, added_ohm = {ohms:g}{toml[found.end():]}"
    line_end = toml.find("\n", found.end())
    line_end = len(toml) if line_end < 0 else line_end
    return f"{toml[:line_end]}\nadded_ohm = {ohms:g}{toml[line_end:]}"


def _table_end(toml: str, start: int) -> int:
    """Where the table that holds `start` ends: at the next header, or with the text."""
    end = toml.find("\n[", start)
    return len(toml) if end < 0 else end


def _quoted(name: str) -> str:
    return f'"{name}"'
