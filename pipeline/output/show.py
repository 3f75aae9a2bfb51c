"""What `show` gives of a type: ratings, heater, pins, names, what may stand in for it, sources, disagreements."""

from collections.abc import Iterable
from typing import Any

from pipeline.catalogue import Catalogue
from pipeline.notation.reading import Reading
from pipeline.notation.tube import read_tube
from pipeline.output.tables import as_csv, as_json
from pipeline.output.type_text import as_text

WIDE = ("tubes", "rectifiers", "regulators", "barretters", "ballasts", "diodes", "lamps")
LISTS = ("heater_options", "sections", "section_uses", "operating_points", "resistance_coupled", "rectifier_ratings",
         "rectifier_operation", "rectifier_curves", "rectifier_efficiency", "pins", "designations", "substitutes")
WITHOUT_FIGURES = ("operating_points", "pins", "designations")
"""Tables that can have rows of a type of which no figure stands under the type's name."""
IN_FIGURES = {*WIDE, *LISTS} - {"pins", "designations", "substitutes"}
OF_OTHERS = {"tube": ("lamps", "diodes"), "lamp": tuple({*WIDE, *LISTS} - {"lamps"}),
             "diode": ("tubes", "lamps", "regulators", "barretters", "ballasts")}
"""Tables that speak of another thing of the same name: 47 is a pentode and a lamp."""
OPEN = ("open_pins", "open_diodes")
"""Tables under a licence of their own, shown with every observation."""
OBSERVATION = ["type", "table", "subject", "quantity", "value", "unit", "evidence", "source_id", "locator", "chosen",
               "note", "raw_file", "raw_line"]


def print_types(catalogue: Catalogue, asked: list[str], format: str, everything: bool) -> int:
    """Print each name asked; the number of names that are not known."""
    found = [one(catalogue, name, printed=format == "text") for name in asked]
    for item in found:
        observed = item.pop("observations", [])
        if everything:
            item["observations"] = _in_order(observed)
            for name in OPEN:
                item[name] = list(catalogue.rows(name, "type = ?", [item["type"]])) if item["type"] else []
        if format == "text":
            item["observed"] = observed
    if format == "json":
        print(as_json(found), end="")
    elif format == "csv":
        which = "observations" if everything else "figures"
        print(as_csv([row for item in found for row in item.get(which, ())], OBSERVATION), end="")
    else:
        print("\n\n".join(as_text(catalogue, item, everything) for item in found))
    return sum(item["type"] is None for item in found)


def one(catalogue: Catalogue, name: str, printed: bool = False) -> dict[str, Any]:
    """Everything about one name, under the tables' own column names; `type` null and `why` where unknown.

    For what is `printed`, the figures alone say what stands in the other tables: each table left out saves a query.
    """
    reading = _read(catalogue, name)
    if reading.type is None or reading.kind not in ("tube", "diode", "lamp"):
        why = reading.why or f"this reads as a {reading.kind}, not as a type"
        return {"asked": name, "type": None, "why": why, "near": list(reading.near)}
    item: dict[str, Any] = {"asked": name, "type": reading.type, "via": reading.via}
    figures = [row for row in catalogue.rows("figures", "type = ?", [reading.type])
               if row["table"] not in OF_OTHERS[reading.kind]]
    filled = {*WITHOUT_FIGURES, *(row["table"] for row in figures)} - {*OF_OTHERS[reading.kind]}
    filled -= IN_FIGURES if printed else set()
    if printed:
        item |= {row["quantity"]: row["text"] for row in figures if row["chosen"] and row["table"] in WIDE}
    for wide in WIDE:
        for row in catalogue.rows(wide, "type = ?", [reading.type]) if wide in filled else ():
            item |= {k: v for k, v in row.items() if k not in item or item[k] is None}
    for many in LISTS:
        item[many] = list(catalogue.rows(many, "type = ?", [reading.type])) if many in filled else []
    item |= {k: v for k, v in common(item["sections"]).items() if k not in item}
    item["disagreements"] = disagreements(catalogue, reading.type)
    item["figures"] = _in_order(row for row in figures if row["chosen"])
    item["observations"] = figures
    return item


def _read(catalogue: Catalogue, name: str) -> Reading:
    own = catalogue.own_name(name)
    if len(own) and (found := read_tube(name.strip(), own)) is not None:
        return found
    from pipeline.notation.read import read  # the readers of every kind of part: a tube's own name needs but one

    return read(name, names=catalogue.names, lamps=catalogue.lamps, diodes=catalogue.diodes, role=None,
                ref=_likely_ref(catalogue, name))


def _likely_ref(catalogue: Catalogue, name: str) -> str:
    if name in catalogue.diodes:
        return "D1"
    return "PL1" if name.lstrip("#") in catalogue.lamps and not catalogue.names.exact(name) else "V1"


def common(sections: list[dict[str, Any]]) -> dict[str, Any]:
    """Section columns that have one and the same value in every section that states them."""
    values: dict[str, set] = {}
    for section in sections:
        for name, value in section.items():
            if value is not None and name not in ("type", "section", "evidence"):
                values.setdefault(name, set()).add(value)
    return {name: seen.pop() for name, seen in values.items() if len(seen) == 1}


def _in_order(figures: Iterable[dict[str, Any]]) -> list[dict[str, Any]]:
    """Figures table by table, those of one quantity together and the chosen one first; words as their value."""
    rows = [{**row, "value": row["text"] if row["value"] is None else row["value"]} for row in figures]
    return sorted(rows, key=lambda row: (row["table"], row["subject"], row["quantity"], not row["chosen"],
                                         row["raw_file"], row["raw_line"]))


def disagreements(catalogue: Catalogue, type_: str) -> list[dict[str, Any]]:
    """What differs from the chosen figures of the type, in any table; then what the open tables say otherwise."""
    where, values = "subject = ? or subject like ? order by 1, 2, 3", [type_, f"{type_}/%"]
    return [row for table in ("disagreements", "open_disagreements") for row in catalogue.rows(table, where, values)]
