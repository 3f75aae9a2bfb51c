"""Rules over rows and tables: what one cell alone cannot show to be wrong. One rule, one id, one function."""

from collections import defaultdict
from collections.abc import Iterator
from difflib import get_close_matches

from pipeline.build.faults import Fault
from pipeline.build.normalise import TypedRow
from pipeline.notation.names import normal

Typed = dict[str, list[TypedRow]]


def audit(typed: Typed, broken: set[str]) -> list[Fault]:
    """Every fault the rules find; tables whose files are in `broken` are no ground for `unknown` faults."""
    faults: list[Fault] = []
    if not any(name.split("/")[0] == "sources" for name in broken):
        faults += source_known(typed)
    if not any(name.startswith("tubes/tubes/") for name in broken):
        faults += type_known(typed)
    for rule in (pins_readable, name_taken, one_map_for_a_code):
        faults += rule(typed)
    return faults


def _fault(rule: str, row: TypedRow, column: str, what: str, mend: str) -> Fault:
    return Fault(rule, row.file, row.line, column, str(row.values[column]), what, mend)


def source_known(typed: Typed) -> Iterator[Fault]:
    """Every source id stands in the sources table."""
    known = {str(r.values["source_id"]) for r in typed["sources"]}
    for name, rows in typed.items():
        for row in rows if name != "sources" else []:
            source = row.values["source_id"]
            if source is not None and source not in known:
                near = get_close_matches(str(source), known, 1)
                mend = f"perhaps {near[0]}, else add it to sources/" if near else "add it to sources/"
                yield _fault("source-unknown", row, "source_id", "no such source", mend)


def type_known(typed: Typed) -> Iterator[Fault]:
    """Rows about a type need that type among the tubes; metal rectifiers are types of their own."""
    tubes = {str(r.values["type"]) for r in typed["tubes"]}
    metal = {str(r.values["type"]) for r in typed["rectifiers"] if r.values["kind"] in ("silicon", "selenium")}
    known_elsewhere = tubes | metal | {str(r.values["type"]) for r in typed["diodes"]}
    for name in ("heater_options", "tube_pins", "sections", "operating_points", "designations",
                 "designation_exceptions", "rectifiers", "rectifier_ratings", "rectifier_operation"):
        allowed = known_elsewhere if name.startswith("rectifier") else tubes
        for row in typed[name]:
            kind = row.values["type"]
            if kind is not None and kind not in allowed:
                near = get_close_matches(str(kind), allowed, 1)
                yield _fault("type-unknown", row, "type", "no such type among the tubes",
                             f"perhaps {near[0]}, else add it to tubes/tubes/" if near else "add it to tubes/tubes/")


def pins_readable(typed: Typed) -> Iterator[Fault]:
    """A pin map is made of pin:electrode tokens, each pin once."""
    from pipeline.build.catalogue import split_pins

    for name in ("basings", "tube_pins"):
        for row in typed[name]:
            try:
                pins = [p["pin"] for p in split_pins(row.values["pins"] or "")]
            except ValueError as error:
                yield _fault("pin-unreadable", row, "pins", str(error), "write it like 1:t2_p 2:k+g3 4:h")
                continue
            twice = sorted({str(p) for p in pins if pins.count(p) > 1})
            if twice:
                yield _fault("pin-twice", row, "pins", f"pin {twice[0]} stands twice", "name each pin once")


def name_taken(typed: Typed) -> Iterator[Fault]:
    """A designation must not be another type's own name, nor mean two types exactly."""
    own = {normal(str(r.values["type"])): str(r.values["type"]) for r in typed["tubes"]}
    same: dict[str, TypedRow] = {}
    for row in typed["designations"]:
        name, kind = normal(str(row.values["designation"])), str(row.values["type"])
        if own.get(name, kind) != kind:
            yield _fault("name-taken", row, "designation", f"{own[name]} is a type of its own",
                         "drop the row, or make it a substitute")
        elif row.values["nearness"] == "same":
            first = same.setdefault(name, row)
            if first.values["type"] != kind:
                yield _fault("name-of-two", row, "designation",
                             f"already the name of {first.values['type']} ({first.file}:{first.line})",
                             "say near for one of them, or drop it")


def one_map_for_a_code(typed: Typed) -> Iterator[Fault]:
    """One basing code has one pin map, whatever the source."""
    maps: dict[str, dict[str, TypedRow]] = defaultdict(dict)
    for row in typed["basings"]:
        others = maps[str(row.values["basing"])]
        others.setdefault(" ".join(sorted(str(row.values["pins"]).split())), row)
        if len(others) > 1:
            first = next(iter(others.values()))
            yield _fault("two-maps", row, "pins", f"another map stands at {first.file}:{first.line}",
                         "one code, one map: use tube_pins for the type that differs")
