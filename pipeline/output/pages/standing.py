"""What may stand in for a type and what it may stand in for, side by side, with what differs."""

from typing import NamedTuple

from pipeline.output.pages.known import Known, Row
from pipeline.output.pages.wording import amount, heater

ORDER = ("drop-in", "conditional", "other heater", "other base", "not a substitute")
COMPARED = ("Function", "Heater", "Base", "Plate", "Drop", "DC output")


class Stand(NamedTuple):
    """One type beside the page's own: how it stands, what must hold, its cells, and which of them differ."""

    type: str
    relation: str
    condition: str
    grade: str
    document: str
    cells: list[tuple[str, bool]]


class Substitutes(NamedTuple):
    """The columns compared, the type's own cells, what may stand in for it, and what it may stand in for."""

    heads: list[str]
    own: list[str]
    into: list[Stand]
    out_of: list[Stand]


def substitutes(known: Known, type_: str) -> Substitutes | None:
    """Both ways of standing in, or None where nothing is known of either."""
    rows = known.standing.get(type_, [])
    if not rows:
        return None
    others = {row["substitute"] if row["type"] == type_ else row["type"] for row in rows}
    compared = {name: _compared(known, name) for name in (type_, *others)}
    plates = {name: _plates(known, name) for name in compared}
    kept = [i for i, name in enumerate(COMPARED) if any(cells[i] for cells in compared.values())
            and (name != "Function" or len({cells[i] for cells in compared.values()}) > 1)]
    own = [compared[type_][i] for i in kept]

    def differs(i: int, other: str) -> bool:
        if COMPARED[i] == "Plate":
            return any(plates[other].get(place, value) != value for place, value in plates[type_].items())
        one, two = compared[type_][i], compared[other][i]
        return bool(one and two and one != two)

    def stand(row: Row, other: str) -> Stand:
        return Stand(other, row["relation"], row["condition"] or "", row["evidence"],
                     known.document(row["source_id"]), [(compared[other][i], differs(i, other)) for i in kept])

    rows = sorted(rows, key=lambda r: (ORDER.index(r["relation"]) if r["relation"] in ORDER else len(ORDER)))
    return Substitutes([COMPARED[i] for i in kept], own,
                       [stand(r, r["substitute"]) for r in rows if r["type"] == type_],
                       [stand(r, r["type"]) for r in rows if r["substitute"] == type_])


def _compared(known: Known, type_: str) -> list[str]:
    """The type's cells under `COMPARED`; empty where not known or not in the catalogue."""
    tube = known.tubes.get(type_)
    if tube is None:
        return [""] * len(COMPARED)
    limits = [" ".join(x for x in (amount("plate_max_v", s["plate_max_v"], "V"),
                                   amount("plate_dissipation_max_w", s["plate_dissipation_max_w"], "W")) if x)
              for s in known.sections.get(type_, ())]
    rectifier = known.rectifiers.get(type_, {})
    drop = " at ".join(x for x in (amount("drop_v", rectifier.get("drop_v"), "V"),
                                   amount("drop_at_a", rectifier.get("drop_at_a"), "A")) if x)
    base = " ".join(x for x in (tube["base"], tube["basing"]) if x)
    return [tube["function"] or "", _heater(known, tube), base, ", ".join(x for x in limits if x), drop,
            amount("dc_output_max_a", rectifier.get("dc_output_max_a"), "A")]


def _plates(known: Known, type_: str) -> dict[tuple[str, str], float]:
    """Section and quantity → plate limit, where it is known."""
    return {(s["section"], name): s[name] for s in known.sections.get(type_, ())
            for name in ("plate_max_v", "plate_dissipation_max_w") if s[name] is not None}


def _heater(known: Known, tube: Row) -> str:
    options = [heater(o) for o in known.heater_options.get(tube["type"], ()) if o["arrangement"] == "parallel"]
    return " or ".join(x for x in (heater(tube), *options) if x)
