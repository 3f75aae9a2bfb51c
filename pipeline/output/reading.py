"""The results of `read` in each format."""

from collections.abc import Iterable

from pipeline.notation.reading import Reading
from pipeline.output.page import clean
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
            print(f"{clean(r.marking)}: {meaning(r)}")
            for note in r.notes:
                print(f"    {clean(note)}")


def meaning(r: Reading) -> str:
    """What a reading says, in words."""
    if r.kind is None:
        more = f" Perhaps {', '.join(r.near)}." if r.near else ""
        return f"not read: {clean(r.why or '')}{more}"
    words = {"capacitor": _capacitor, "resistor": _resistor, "choke": _choke}.get(r.kind)
    if words:
        return f"{r.kind}, {words(r)}"
    if r.kind == "tube":
        return f"tube {r.type}" + (f" ({r.via})" if r.via else "")
    rest = [r.type or "", _of(r.volts, "V"), _of(r.amps, "A"), r.speed or ""]
    return " ".join([r.kind, *(x for x in rest if x)])


def _capacitor(r: Reading) -> str:
    sections = [" ".join(x for x in (_farads(s.uf), _of(s.volts_dc, "V DC")) if x) for s in r.sections]
    marks = [_of(r.volts_ac, "V AC"), f"class {r.safety_class}" if r.safety_class else "",
             {True: "polarised", False: "not polarised", None: "polarity not marked"}[r.polarised]]
    return ", ".join(x for x in [" + ".join(sections), *marks] if x)


def _farads(uf: float) -> str:
    if uf >= 0.001:
        return f"{uf:g} µF"
    return f"{uf * 1e6:g} pF"


def _resistor(r: Reading) -> str:
    return ", ".join(x for x in (_of(r.ohms, "ohm"), _of(r.watts, "W"),
                                 f"±{r.tolerance_pct:g} %" if r.tolerance_pct else "") if x)


def _choke(r: Reading) -> str:
    return ", ".join(x for x in (_of(r.henries, "H"), _of(r.ohms, "ohm"), _of(r.amps, "A")) if x)


def _of(value: float | None, unit: str) -> str:
    return "" if value is None else f"{value:g} {unit}"
