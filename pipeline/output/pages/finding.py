"""Finding a type: what the search page holds, and the lists that lead to every type without it."""

import json
import re
from collections import defaultdict
from collections.abc import Iterable
from typing import Any, NamedTuple

from pipeline.notation import names
from pipeline.output.pages.known import GRADES, Known, Row, natural, slug
from pipeline.output.pages.types import what

WITHIN_PCT = 10
"""Heater volts and amps further off than this are no match, as for `find`."""
_KINDS = ("triode", "pentode", "tetrode", "hexode", "heptode", "octode", "pentagrid", "diode", "rectifier", "regulator",
          "indicator", "thyratron")
_TIMES = {"twin": 2, "double": 2, "triple": 3}


MOST_NAMES = 400
"""Names on one page of the register; a letter with more is split by the next."""


class List(NamedTuple):
    """A list of types under one head: its file, its title, the types with what they are."""

    file: str
    title: str
    rows: list[tuple[str, str, str]]


class Printed(NamedTuple):
    """A printed name and the types it may stand for, each with whether every figure holds."""

    name: str
    types: list[tuple[str, bool]]


def sections_of(function: str | None) -> dict[str, int]:
    """Kind of section → how many the function's words name: `double diode triode` has two diodes and a triode."""
    found: dict[str, int] = defaultdict(int)
    times = 1
    for word in re.split(r"[ +-]+", function or ""):
        if word in _TIMES:
            times = _TIMES[word]
        elif word in _KINDS:
            found[word] += times
            times = 1
    return dict(found)


def grades_of(rows: Iterable[Row]) -> str:
    """One letter for each grade that the type's chosen figures have, the strongest first: `pqr`."""
    held = {row["evidence"] for row in rows if row["chosen"]}
    return "".join(grade[0] if grade != "practice" else "h" for grade in GRADES if grade in held)


def search_data(known: Known) -> str:
    """The script file that the search page reads: every type with what it is sought by, as one constant."""
    functions = sorted({t["function"] for t in known.tubes.values() if t["function"]})
    bases = sorted({t["base"] for t in known.tubes.values() if t["base"]}, key=str.lower)
    kinds = [k for k in _KINDS if any(k in sections_of(f) for f in functions)]
    rows = [_search_row(known, type_, functions, bases, kinds) for type_ in known.files]
    data: dict[str, Any] = {
        "functions": functions, "bases": bases, "kinds": kinds, "within": WITHIN_PCT / 100,
        "sounds": names.SOUNDS, "looks": names.LOOKS, "types": rows}
    text = json.dumps(data, ensure_ascii=False, separators=(",", ":"), sort_keys=True).replace("<", "\\u003c")
    return f"const CATALOGUE = {text};\n"


def _search_row(known: Known, type_: str, functions: list[str], bases: list[str], kinds: list[str]) -> list[Any]:
    """Name, file where it is another, function, base, heaters as volts and amps in turn, sections, grades, names.

    Names stand in one text, a blank between; a near name has a ~ before it.
    """
    tube = known.tubes[type_]
    heaters = [(tube["heater_v"], tube["heater_a"])]
    heaters += [(o["heater_v"], o["heater_a"]) for o in known.heater_options.get(type_, ())
                if o["arrangement"] in ("series", "parallel")]
    held = sections_of(tube["function"])
    file = known.files[type_].removesuffix(".html")
    others = [("" if n["nearness"] == names.SAME else "~") + n["designation"].replace(" ", "")
              for n in known.names.get(type_, ())]
    return [type_, "" if file == type_ else file,
            functions.index(tube["function"]) if tube["function"] else -1,
            bases.index(tube["base"]) if tube["base"] else -1,
            [x for pair in dict.fromkeys(heaters) for x in pair],
            [x for i, kind in enumerate(kinds) if kind in held for x in (i, held[kind])],
            grades_of(row for rows in known.by_type[type_].values() for row in rows), " ".join(others)]


def by_column(known: Known, column: str, folder: str) -> list[List]:
    """One list for each word of a column of `tubes`, the fullest first."""
    groups: dict[str, list[str]] = defaultdict(list)
    for type_ in known.files:
        groups[known.tubes[type_][column] or "not recorded"].append(type_)
    ordered = sorted(groups.items(), key=lambda item: (-len(item[1]), item[0]))
    return [List(f"{folder}/{slug(word)}.html", word, [_listed(known, t) for t in sorted(types, key=natural)])
            for word, types in ordered]


def _listed(known: Known, type_: str) -> tuple[str, str, str]:
    same = [n["designation"] for n in known.names.get(type_, ()) if n["nearness"] == names.SAME]
    return type_, what(known.tubes[type_]), ", ".join(same[:6])


def register(known: Known) -> dict[str, list[Printed]]:
    """First letter or figure (two where there are very many) → every printed name that begins so, with its types."""
    found: dict[str, dict[str, bool]] = defaultdict(dict)
    for type_ in known.files:
        found[type_][type_] = True
        for row in known.names.get(type_, ()):
            same = row["nearness"] == names.SAME
            found[row["designation"]][type_] = found[row["designation"]].get(type_, False) or same
    first: dict[str, int] = defaultdict(int)
    for name in found:
        first[name[0].upper()] += 1
    letters: dict[str, list[Printed]] = defaultdict(list)
    for name in sorted(found, key=natural):
        types = sorted(found[name].items(), key=lambda item: (not item[1], natural(item[0])))
        begin = name[:1 if first[name[0].upper()] <= MOST_NAMES else 2].upper()
        letters[begin].append(Printed(name, types))
    return dict(sorted(letters.items()))


def register_file(begin: str) -> str:
    """The page of the names that begin so."""
    return f"names/{''.join(c if c.isascii() and c.isalnum() else f'u{ord(c):04x}' for c in begin)}.html"


def heaters_offered(known: Known) -> list[str]:
    """Heater volts that ten types or more have, as the search offers them."""
    counts: dict[float, int] = defaultdict(int)
    for tube in known.tubes.values():
        if tube["heater_v"] is not None:
            counts[tube["heater_v"]] += 1
    return [f"{v:g}" for v in sorted(v for v, n in counts.items() if n >= 10)]


def sections_offered(known: Known) -> list[tuple[str, str]]:
    """Value and words of each choice of sections: a kind, and a kind two or three times."""
    most: dict[str, int] = defaultdict(int)
    for function in {tube["function"] for tube in known.tubes.values()}:
        for kind, count in sections_of(function).items():
            most[kind] = max(most[kind], count)
    words = ("with a", "with two", "with three")
    return [(f"{kind} {n}", f"{words[n - 1]} {kind}{'s' if n > 1 else ''}")
            for kind in _KINDS for n in range(1, min(most.get(kind, 0), 3) + 1)]
