"""Rules about pin maps: readable, one map for a code, enough pins for the base, the function and the heater."""

import re
from collections.abc import Iterable, Iterator

from pipeline.build.audit.ground import Ground, Hit, hit, where
from pipeline.build.normalise import TypedRow
from pipeline.build.pins import Pin, split_pins

PINS_OF_BASE = {
    "octal": 8, "loctal": 8, "Mazda octal": 8, "steel 8-pin": 8, "side-contact": 8, "rimlock": 8, "noval": 9,
    "novar": 9, "magnoval": 9, "B9G": 9, "miniature 7-pin": 7, "decal": 10, "duodecar": 12, "nuvistor": 12,
    "magnal 11-pin": 11, "diheptal 12-pin": 14, "UX-4": 4, "UX-5": 5, "UX-6": 6, "UX-7": 7, "B4": 4, "B5": 5, "B7": 7,
}
"""Contacts of each base; bases given in other words are not counted."""

_FREE = {"nc", "ic", "is", "s", "shell", "bp"}
"""Electrodes that a map may name or leave out without changing what the tube does."""

_TETRODE = (r"(p_)?p", r"(p_)?g1?", r"(p_)?g2")
_TWIN = (r"t1_p", r"t1_g", r"t2_p", r"t2_g")
_TWO_DIODES = (r"d1_p", r"d2_p")
_NEEDED = {
    "triode": (r"(t_)?p", r"(t_)?g1?"), "power triode": (r"p", r"g1?"), "twin triode": _TWIN,
    "twin power triode": _TWIN,
    **dict.fromkeys(("tetrode", "remote-cutoff tetrode", "beam power tetrode", "pentode", "remote-cutoff pentode",
                     "power pentode"), _TETRODE),
    **dict.fromkeys(("pentagrid converter", "pentagrid amplifier", "octode"), (r"p", r"g1", r"g2", r"g3", r"g4")),
    **dict.fromkeys(("triode-hexode", "triode-heptode"), (r"t_p", r"t_g", r"h_p", r"h_g1", r"h_g3")),
    **dict.fromkeys(("triode-pentode", "triode + power pentode", "triode + power tetrode"),
                    (r"t_p", r"t_g1?", r"p_p", r"p_g1", r"p_g2")),
    "diode triode": (r"d1?_p", r"t_p", r"t_g"), "triode + diode": (r"d1?_p", r"t_p", r"t_g"),
    "double diode triode": (*_TWO_DIODES, r"(t_)?p", r"(t_)?g"),
    "triple diode triode": (*_TWO_DIODES, r"d3_p", r"t_p", r"t_g"),
    "diode pentode": (r"d1?_p", *_TETRODE), "double diode pentode": (*_TWO_DIODES, *_TETRODE),
    "double diode + power pentode": (*_TWO_DIODES, *_TETRODE),
    "double diode": _TWO_DIODES, "full-wave rectifier": _TWO_DIODES, "twin half-wave rectifier": _TWO_DIODES,
    "half-wave rectifier": (r"(d1?_)?p",), "damper diode": (r"(d1?_)?p",), "diode": (r"(d1?_)?p",),
    "voltage regulator": (r"p", r"k"),
}
"""Function → patterns of which each must meet an electrode of the map."""


def pin_unreadable(ground: Ground) -> Iterator[Hit]:
    """A pin map is made of pin:electrode tokens."""
    for row in _maps(ground):
        try:
            split_pins(row.values["pins"] or "")
        except ValueError as error:
            yield hit(row, "pins", str(error), "write it like 1:t2_p 2:k+g3 4:h")


def pin_twice(ground: Ground) -> Iterator[Hit]:
    """A pin stands once in its map; electrodes that share a pin are joined with +."""
    for row in _maps(ground):
        pins = [token.partition(":")[0] for token in str(row.values["pins"] or "").split()]
        if twice := sorted({p for p in pins if pins.count(p) > 1}):
            yield hit(row, "pins", f"pin {twice[0]} stands twice", "name each pin once, joined electrodes as k+g3")


def two_maps(ground: Ground) -> Iterator[Hit]:
    """One basing code has one pin map, whatever the source: that is what a code is for."""
    first: dict[str, TypedRow] = {}
    for row in ground.typed["basings"]:
        other = first.setdefault(str(row.values["basing"]), row)
        if sorted(str(row.values["pins"]).split()) != sorted(str(other.values["pins"]).split()):
            yield hit(row, "pins", f"another map stands at {where(other)}",
                      "one code, one map: use tube_pins for the type that differs")


def _maps(ground: Ground) -> Iterable[TypedRow]:
    return (*ground.typed["basings"], *ground.typed["tube_pins"])


def _used(ground: Ground) -> Iterator[tuple[str, TypedRow, TypedRow, str, list[Pin]]]:
    """Each type's maps: type, a row of `tubes`, the row to blame with its column, the pins."""
    for type_, rows in ground.tubes.items():
        own = ground.maps.get(("tube_pins", type_), [])
        for row, pins in own:
            yield type_, rows[0], row, "pins", pins
        for tube in rows if not own else []:
            for _, pins in ground.maps.get(("basings", str(tube.values["basing"])), [])[:1]:
                yield type_, tube, tube, "basing", pins


def pin_beyond_base(ground: Ground) -> Iterator[Hit]:
    """No pin number is above the base's count of contacts."""
    for (table, name), found in ground.maps.items():
        for row, pins in found:
            base = row.values["base"] if table == "basings" else ground.word(name, "base")
            count = PINS_OF_BASE.get(str(base))
            beyond = [p.pin for p in pins if p.pin.isdigit() and count and not 1 <= int(p.pin) <= count]
            if beyond:
                yield hit(row, "pins", f"{base} has {count} contacts and no pin {beyond[0]}",
                          "mend the pin or the base")


def pins_incomplete(ground: Ground) -> Iterator[Hit]:
    """A map that a reader may wire by names a plate or target, a cathode or filament, and both heater pins."""
    for type_, tube, row, column, pins in _used(ground):
        electrodes = [e for pin in pins for e in pin.electrodes]
        missing = []
        if not {"p", "target", "a2"} & set(electrodes):
            missing.append("plate")
        if not {"k", "f"} & set(electrodes):
            missing.append("cathode")
        heaters = sum(1 for pin in pins if pin.electrodes & {"h", "h_ct", "f", "f_ct", "tap"})
        if tube.values["heating"] in ("heater", "filament") and heaters < 2:
            missing.append("second heater pin" if heaters else "heater")
        if missing:
            yield hit(row, column, f"the map of {type_} has no {' and no '.join(missing)}",
                      "complete the map, or leave it out until it is known", type_)


def pins_against_function(ground: Ground) -> Iterator[Hit]:
    """A map holds the electrodes of the tube's function: two plates in a twin triode, a screen in a pentode."""
    for type_, tube, row, column, pins in _used(ground):
        parts = {f"{section}_{electrode}".lstrip("_") for pin in pins for section, electrode in pin.parts}
        needed = _NEEDED.get(str(tube.values["function"]), ())
        missing = [n for n in needed if not any(re.fullmatch(n, part) for part in parts)]
        if missing:
            shown = ", ".join(re.sub(r"\(\w+\)\?|.\?", "", n) for n in missing)
            yield hit(row, column, f"{type_} is a {tube.values['function']}, the map has no {shown}",
                      "mend the function, the basing code or the map", type_)


def pins_against_code(ground: Ground) -> Iterator[Hit]:
    """A type's own map agrees with the map of its basing code; shells, shields and free pins do not count.

    Nor does a third grid that is strapped to the cathode inside: some drawings leave it out.
    """
    for (table, type_), found in ground.maps.items():
        codes = {str(r.values["basing"]) for r in ground.tubes.get(type_, ())} if table == "tube_pins" else ()
        for row, pins in found:
            for code_row, code_pins in (m for code in codes for m in ground.maps.get(("basings", code), [])[:1]):
                ours, theirs = _told(pins), _told(code_pins)
                differing = sorted(pin for pin in ours.keys() | theirs.keys() if ours.get(pin) != theirs.get(pin))
                if differing:
                    yield hit(row, "pins", f"pin {differing[0]} differs from {code_row.values['basing']} "
                              f"({where(code_row)})", "mend the map or the code, or waive with the reason")


def _told(pins: list[Pin]) -> dict[str, frozenset[str]]:
    found = {pin.pin: frozenset(pin.electrodes - _FREE - ({"g3"} if "k" in pin.electrodes else set())) for pin in pins}
    return {pin: electrodes for pin, electrodes in found.items() if electrodes}


def base_against_code(ground: Ground) -> Iterator[Hit]:
    """A tube and its basing code have the same base."""
    bases = {str(r.values["basing"]): str(r.values["base"]) for r in ground.typed["basings"] if r.values["base"]}
    for row in ground.typed["tubes"]:
        base, code = row.values["base"], str(row.values["basing"])
        if base is not None and bases.get(code, base) != base:
            yield hit(row, "basing", f"{code} is a basing of {bases[code]}, the base is {base}",
                      "mend the base or the code")


def heater_pins(ground: Ground) -> Iterator[Hit]:
    """The pins that `heater_options` names carry the heater in the type's map."""
    heating = {pin_of: {p.pin for p in pins if p.electrodes & {"h", "h_ct", "f", "f_ct", "tap"}}
               for pin_of, _, _, _, pins in _used(ground)}
    for row in ground.typed["heater_options"]:
        named = set(re.findall(r"\d+", str(row.values["pins"] or "")))
        carrying = heating.get(str(row.values["type"]))
        if carrying and named - carrying:
            yield hit(row, "pins", f"pin {sorted(named - carrying)[0]} carries no heater in the type's map",
                      "mend the pins here or in the map")
