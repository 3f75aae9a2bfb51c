"""The results of `read` in each format."""

from collections.abc import Iterable, Sequence

from pipeline.amounts import amount
from pipeline.notation.reading import Reading
from pipeline.output.page import wrapped
from pipeline.output.tables import as_csv, as_json


def print_readings(found: Iterable[Reading], format: str) -> None:
    """Print what markings mean."""
    readings = list(found)
    if format == "json":
        print(as_json([r.as_dict() for r in readings]), end="")
    elif format == "csv":
        rows = [{"marking": r.marking, "kind": r.kind, "meaning": meaning(r), "notes": list(r.notes)} for r in readings]
        print(as_csv(rows, ["marking", "kind", "meaning", "notes"]), end="")
    else:
        for r in readings:
            print(wrapped(f"{r.marking}: {meaning(r)}", 4))
            for note in r.notes:
                print(wrapped(note, 6, "    "))


def perhaps(near: Sequence[str], why: str) -> str:
    """The nearest names as words of their own, unless the reason names them already."""
    return f" Perhaps {', '.join(near)}." if any(name not in why for name in near) else ""


def meaning(r: Reading) -> str:
    """What a reading says, in words."""
    if r.kind is None:
        return f"not read: {r.why or ''}{perhaps(r.near, r.why or '')}"
    words = {"capacitor": _capacitor, "resistor": _resistor, "choke": _choke, "potentiometer": _control,
             "tuning capacitor": _gangs, "trimmer": _gangs}.get(r.kind)
    if words:
        return ", ".join(x for x in (r.kind, words(r)) if x)
    if r.kind == "tube":
        return f"tube {r.type}" + (f" ({r.via})" if r.via else "")
    rest = [r.type or "", _of(r.volts, "V"), _of(r.amps, "A"), r.speed or "", *_amounts(r)]
    return " ".join([r.kind, *(x for x in rest if x)])


def _amounts(r: Reading) -> list[str]:
    """What motors, belts, speakers and their like may be marked with."""
    windings = [f"{w.volts:g}{f'-0-{w.volts:g}' if w.centre_tap else ''} V{f' {w.amps:g} A' if w.amps else ''}"
                for w in r.windings]
    sizes = [_of(r.length_mm, "mm long"), _of(r.diameter_mm, "mm across"), _of(r.width_mm, "mm wide"),
             _of(r.thickness_mm, "mm thick"), r.shape or ""]
    turning = [_of(r.hertz, "Hz"), _of(r.rpm, "rpm"), _of(r.teeth, "teeth"), _of(r.pins, "pins"),
               _of(r.tracks, "tracks")]
    return [", ".join(windings), r.contacts or "", _of(r.ohms, "ohm"), _of(r.watts, "W"), _of(r.henries, "H"),
            _of(r.uf, "µF"), *turning, *sizes, "centre-tapped" if r.centre_tap and not windings else ""]


def _control(r: Reading) -> str:
    tracks = f"{r.tracks:g} tracks" if r.tracks else ""
    return ", ".join(x for x in (_resistor(r), r.taper or "", tracks, "with switch" if r.switched else "") if x)


def _gangs(r: Reading) -> str:
    return " + ".join(_farads(s.uf) for s in r.sections)


def _capacitor(r: Reading) -> str:
    sections = [" ".join(x for x in (_farads(s.uf), _of(s.volts_dc, "V DC")) if x) for s in r.sections]
    marks = [_of(r.volts_ac, "V AC"), f"class {r.safety_class}" if r.safety_class else "",
             {True: "polarised", False: "not polarised", None: "polarity not marked"}[r.polarised]]
    return ", ".join(x for x in [" + ".join(sections), *marks] if x)


def _farads(uf: float) -> str:
    return amount(uf, "µF")


def _resistor(r: Reading) -> str:
    return ", ".join(x for x in (_of(r.ohms, "ohm"), _of(r.watts, "W"),
                                 f"±{r.tolerance_pct:g} %" if r.tolerance_pct else "",
                                 "centre-tapped" if r.centre_tap else "") if x)


def _choke(r: Reading) -> str:
    return ", ".join(x for x in (_of(r.henries, "H"), _of(r.ohms, "ohm"), _of(r.amps, "A")) if x)


def _of(value: float | None, unit: str) -> str:
    return "" if value is None else amount(value, unit, "fuse")
