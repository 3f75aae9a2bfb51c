"""Rules that read the designation itself: it names the heater, and in Europe the base."""

import re
from collections.abc import Iterator

from pipeline.build.audit.ground import Ground, Hit, hit
from pipeline.build.normalise import TypedRow
from pipeline.notation import designations

_HALF = 0.1
"""Volts by which a number may be rounded up further than the printed steps show: 17.5 V makes an 18."""
_ROUNDING = 0.03
"""Relative tolerance on the heater a European letter names."""
_OUR_WORDS = {"side contact": "side-contact", "German metal": "steel 8-pin", "B10B": "decal", "B8G": "loctal",
              "B8A": "rimlock", "7-pin miniature": "miniature 7-pin"}
_LETTERS = re.compile(r"[A-Z](?:([A-FHKLMNYZ]{1,3})\d{1,3}[A-Z]{0,2}|\d{2,3}([A-FHKLMNYZ]{1,3}))")
_PENTODES = ("pentode", "remote-cutoff pentode")
_OUTPUT = ("power pentode", "beam power tetrode")
_FUNCTIONS = {
    "A": ("diode",), "B": ("double diode",), "C": ("triode", "power triode"), "D": ("power triode",),
    "F": _PENTODES, "H": ("pentagrid amplifier", "gate tetrode"), "K": ("octode", "pentagrid converter"),
    "L": _OUTPUT, "M": ("tuning indicator",), "N": ("thyratron",),
    "Y": ("half-wave rectifier", "damper diode", "twin half-wave rectifier"), "Z": ("full-wave rectifier",),
    "ABC": ("triple diode triode",), "AC": ("diode triode", "triode + diode"), "AF": ("diode pentode",),
    "BC": ("double diode triode",), "BF": ("double diode pentode",), "BL": ("double diode + power pentode",),
    "CC": ("twin triode", "twin power triode"), "CF": ("triode-pentode",), "CH": ("triode-hexode", "triode-heptode"),
    "CL": ("triode + power pentode", "triode + power tetrode"),
    "CLL": ("triode + twin power pentode", "triode + power pentode"), "DD": ("twin triode", "twin power triode"),
    "LL": ("twin power pentode",), "MM": ("tuning indicator",), "FF": ("twin pentode",),
}
"""System letters of a European name → the functions they stand for; combinations not listed are not weighed."""
_WAIVE = "mend the figure, or name the exception in designation_exceptions"


def _named(ground: Ground, system: str) -> Iterator[tuple[str, str, TypedRow]]:
    """Every name a rule reads, with its type and the row it stands in: the type's own, then those of `system`.

    Ballasts are named by a code of their own, which looks European: K55B is no double diode.
    """
    for type_, rows in ground.tubes.items():
        for row in rows:
            if row.values["function"] != "ballast":
                yield type_, type_, row
    for row in ground.typed["designations"]:
        if row.values["system"] == system and row.values["nearness"] == "same":
            yield str(row.values["designation"]), str(row.values["type"]), row


def _observed(ground: Ground, type_: str, row: TypedRow, column: str) -> list[float]:
    """The figures to weigh a name against: the row's own if it has the column, else all of the type's."""
    if column in row.values:
        value = row.number(column)
        return [] if value is None else [value]
    return [value for r in ground.tubes.get(type_, ()) if (value := r.number(column)) is not None]


def retma_heater(ground: Ground) -> Iterator[Hit]:
    """The leading number of an American designation is the heater voltage, rounded.

    Lock-in types are the system's own exception: 7 stands for 6.3 V and 14 for 12.6 V.
    """
    for name, type_, row in _named(ground, "RETMA"):
        if ground.word(type_, "function") == "cathode-ray tube":
            continue  # there the number is the screen's diameter in inches
        allowed = designations.retma_heater_range(name, lock_in=_loctal(ground, type_))
        volts = _observed(ground, type_, row, "heater_v")
        if allowed is None or not volts:
            continue
        low, high = allowed[0] - _HALF, allowed[1] + _HALF / 100
        if not any(low <= v <= high for v in volts):
            column = "heater_v" if "heater_v" in row.values else "designation"
            yield hit(row, column, f"the number in {name} stands for {allowed[0]:g} to {allowed[1]:g} V, "
                      f"the heater has {_list(volts)} V", _WAIVE)


def _loctal(ground: Ground, type_: str) -> bool | None:
    base = ground.word(type_, "base")
    return None if base is None else base == "loctal"


def _list(values: list[float]) -> str:
    return " and ".join(f"{v:g}" for v in dict.fromkeys(values))


def european_heater(ground: Ground) -> Iterator[Hit]:
    """The first letter of a European designation is the heater: E 6.3 V, P 0.3 A, U 0.1 A and so on.

    A tapped heater counts by its best arrangement: ECC83 is an E by its 6.3 V.  Letters that are not in the
    makers' own list are not weighed: other lists disagree on some of them.
    """
    for name, type_, row in _named(ground, "European"):
        said = designations.european_heater(name)
        if said is None or not said.in_makers_list:
            continue
        values = _observed(ground, type_, row, said.quantity)
        options = [r.number(said.quantity) for r in ground.heater_options.get(type_, ())]
        low, high = said.low * (1 - _ROUNDING), said.high * (1 + _ROUNDING)
        if values and not any(low <= v <= high for v in (*values, *options) if v is not None):
            unit = "V" if said.quantity == "heater_v" else "A"
            span = f"{said.low:g}" if said.low == said.high else f"{said.low:g} to {said.high:g}"
            yield hit(row, said.quantity if said.quantity in row.values else "designation",
                      f"the letter {name[0].upper()} of {name} stands for {span} {unit}, "
                      f"the heater has {_list(values)} {unit}", _WAIVE)


def european_base(ground: Ground) -> Iterator[Hit]:
    """The first figure of a European designation is the base: 3 octal, 4 rimlock, 8 noval, 9 seven-pin.

    Special-quality and late types with three figures that begin with 1 or 2 (E180F, EF183) follow another count.
    """
    for name, type_, row in _named(ground, "European"):
        figures = re.search(r"\d+", name)
        allowed = designations.european_base(name)
        if allowed is None or (figures and len(figures[0]) == 3 and figures[0][0] in "12"):
            continue
        bases = {_OUR_WORDS.get(base, base) for base in allowed}
        ours = row.values["base"] if "base" in row.values else ground.word(type_, "base")
        if ours is not None and ours not in bases:
            yield hit(row, "base" if "base" in row.values else "designation",
                      f"the figure in {name} stands for {' or '.join(sorted(bases))}, the base is {ours}", _WAIVE)


def european_function(ground: Ground) -> Iterator[Hit]:
    """The letters after the first of a European designation are the systems in the bulb: C triode, L output, Z
    full-wave rectifier; ECL82 is a triode with an output pentode.

    After Mullard, Valve Type Nomenclature, data-book page (text reproduced online).
    """
    for name, type_, row in _named(ground, "European"):
        said, letters = designations.european_heater(name), _LETTERS.fullmatch(name.upper())
        if said is None or not said.in_makers_list or letters is None:
            continue
        allowed = _FUNCTIONS.get(letters[1] or letters[2])
        function = row.values["function"] if "function" in row.values else ground.word(type_, "function")
        if allowed is not None and function is not None and function not in allowed:
            yield hit(row, "function" if "function" in row.values else "designation",
                      f"the letters of {name} stand for {' or '.join(allowed)}, the tube is a {function}", _WAIVE)
