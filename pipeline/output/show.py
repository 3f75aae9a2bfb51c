"""What `show` prints of a type: ratings, heater, pins, names, what may stand in for it, sources, disagreements."""

from collections.abc import Iterable, Sequence
from typing import Any

from pipeline.catalogue import Catalogue, Figure, Ratings
from pipeline.notation.read import read
from pipeline.notation.reading import Reading
from pipeline.output.page import paint, table, wrapped
from pipeline.output.svg.base import base_text
from pipeline.output.tables import as_csv, as_json

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
            item["ratings"] = _ratings(item["type"], observed)
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
    if len(own := catalogue.own_name(name)):
        return read(name, names=own, lamps=(), diodes=(), role=None, ref="V1")
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


def as_text(catalogue: Catalogue, item: dict[str, Any], everything: bool) -> str:
    """The type as a page of text."""
    if item["type"] is None:
        near = f" Perhaps {', '.join(item['near'])}." if item["near"] else ""
        return wrapped(f"{item['asked']}: not known: {item['why']}.{near}")
    ratings = item["ratings"]
    head = item["type"] + (f", asked as {item['asked']}" if item["asked"] != item["type"] else "")
    blocks = [paint(head, "head") + "\n" + wrapped(_what(item), 2, "  ")]
    for name in ("tubes", "heater_options", "sections", "section_uses", "rectifiers", "regulators", "barretters",
                 "ballasts", "diodes", "lamps", "rectifier_ratings", "rectifier_efficiency", "rectifier_curves",
                 "rectifier_operation", "operating_points", "resistance_coupled"):
        if lines := _figures(ratings, name):
            blocks.append(paint(name.replace("_", " "), "head") + "\n" + lines)
    blocks += [b for b in (_pins(item), _names(item), _substitutes(item), _differing(item)) if b]
    blocks.append(_sources(catalogue, item))
    if everything:
        blocks.append(_all(item))
    return "\n\n".join(blocks)


def _ratings(type_: str, observed: list[dict[str, Any]]) -> Ratings:
    """What is chosen of the type, in the order in which it was typed in."""
    found = Ratings(type_)
    for row in sorted((row for row in observed if row["chosen"]), key=lambda row: (row["raw_file"], row["raw_line"])):
        value = row["text"] if row["value"] is None else row["value"]
        found.add(row["table"], Figure(**{name: row[name] for name in Figure._fields} | {"value": value}))
    return found


def _what(item: dict[str, Any]) -> str:
    words = [item.get("function"), item.get("kind") if not item.get("function") else None,
             f"{item['base']} base" if item.get("base") else None,
             f"basing {item['basing']}" if item.get("basing") else None, item.get("rating_system")]
    return ", ".join(str(w) for w in words if w)


def _figures(ratings: Ratings, name: str) -> str:
    rows = []
    for subject, found in ratings.rows(name).items():
        part = subject.partition("/")[2]
        for figure in found.values():
            if isinstance(figure.value, float) or name == "heater_options":
                value = f"{figure.value:g}" if isinstance(figure.value, float) else str(figure.value)
                rows.append((part, figure.quantity, f"{value} {figure.unit or ''}".strip(), figure.evidence,
                             figure.source_id))
    return table(_blank_repeats(rows)) if rows else ""


def _blank_repeats(rows: Sequence[tuple[str, ...]]) -> list[tuple[str, ...]]:
    last, result = None, []
    for row in rows:
        result.append(("" if row[0] == last else row[0], *row[1:]))
        last = row[0]
    return result


def _pins(item: dict[str, Any]) -> str:
    if not item["pins"]:
        return ""
    weak = "" if item["pins"][0]["evidence"] in ("published", "quoted") else f" ({item['pins'][0]['evidence']})"
    lines = base_text(item.get("base") or "", item["pins"])
    return "\n".join([paint(f"base, seen from below{weak}", "head"), *(("  " + line).rstrip() for line in lines)])


def _names(item: dict[str, Any]) -> str:
    names = [d["designation"] + ("" if d["nearness"] == "same" else f" ({d['nearness']})")
             for d in item["designations"]]
    return paint("other names", "head") + "\n" + wrapped(", ".join(sorted(names)), 2, "  ") if names else ""


def _substitutes(item: dict[str, Any]) -> str:
    rows = [(s["substitute"], s["relation"], s["condition"] or "", s["evidence"]) for s in item["substitutes"]]
    return paint("what may stand in for it", "head") + "\n" + table(rows) if rows else ""


def _differing(item: dict[str, Any]) -> str:
    lines = [wrapped(f"{d['subject']} {d['quantity']}: {d['chosen_value']} {d['unit'] or ''} "
                     f"({d['chosen_evidence']}, {d['chosen_source']}) taken; {d['other_value']} "
                     f"({d['other_evidence']}, {d['other_source']})", 4, "  ") for d in item["disagreements"]]
    return paint("sources differ", "head") + "\n" + "\n".join(lines) if lines else ""


def _sources(catalogue: Catalogue, item: dict[str, Any]) -> str:
    found = catalogue.sources({f["source_id"] for f in item["figures"]})
    lines = [wrapped(f"{s['source_id']}: {s['title']}" + (f", {s['publisher']}" if s["publisher"] else "")
                     + (f", {s['year']}" if s["year"] else ""), 4, "  ") for s in found.values()]
    return paint("sources", "head") + "\n" + "\n".join(sorted(lines))


def _all(item: dict[str, Any]) -> str:
    apart = [("", f"{name}/{row['type']}", *_open(row), row["evidence"], row["source_id"], row["locator"])
             for name in OPEN for row in item.get(name, [])]
    rows = [("taken" if o["chosen"] else "", o["subject"], o["quantity"], f"{o['value']}", o["evidence"],
             o["source_id"], f"{o['raw_file']}:{o['raw_line']}") for o in item["observations"]] + apart
    return paint("every observation", "head") + "\n" + table(rows)


def _open(row: dict[str, Any]) -> tuple[str, str]:
    """What a row of an open table says: a pin's electrode, or a diode's volts and amps."""
    if "electrode" in row:
        return f"pin {row['pin']}", row["electrode"]
    return "volts, amps", f"{row['piv_max_v'] or '?'} V, {row['forward_max_a'] or '?'} A"
