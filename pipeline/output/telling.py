"""What unit.toml says of mains, windings, strings, supplies, nodes and stages, read back in the words of the trade."""

from collections.abc import Iterator
from typing import Any

from pipeline.amounts import amount
from pipeline.bench.told import Known
from pipeline.bench.told.apply import index_of
from pipeline.unit.places import folded

_SUPPLY = (("secondary_ohm", "ohm", "winding"), ("primary_ohm", "ohm", "primary"), ("added_ohm", "ohm", "added"),
           ("ohms", "ohm", "inside"), ("secondary_a", "A", "rated"), ("hertz", "Hz", ""))
_LEADS = ("plate", "screen", "cathode", "grid")


def described(table: str, name: str, known: Known) -> str:
    """One table in words, such as `B+: full-wave by V5 (5Y3GT), 350 V each half, winding 48 ohm; node B1`."""
    data = known.toml.data
    if table == "top":
        return _mains(data) if name == "mains" else f"name: {data.get('name', '')}"
    if table == "supply":
        return f"supply {name}: {_supply(dict(known.toml.supplies()).get(name, {}), known)}"
    if table == "node":
        node: dict[str, Any] = next((n for _, s in known.toml.supplies() for n in s.get("node", [])
                                     if folded(str(n.get("id", ""))) == folded(name)), {})
        return f"node {node.get('id', name)}: {_node(node, known)}"
    if table == "stage":
        row = next((t for t in known.toml.tables("stage") if " ".join(_texts(t.get("tubes"))) == name), {})
        return f"stage of {name}: {_stage(row, known)}"
    index = index_of(known.toml, table, name)
    row = known.toml.tables(table)[index] if index is not None else {}
    return f"{table} {row.get('id', name)}: {_heater(row)}"


def is_told(known: Known) -> Iterator[tuple[str, str]]:
    """(table, name) of everything that unit.toml holds."""
    yield "top", "mains"
    for table in ("winding", "string"):
        yield from ((table, str(row.get("id"))) for row in known.toml.tables(table))
    for id_, supply in known.toml.supplies():
        yield "supply", id_
        yield from (("node", str(node.get("id"))) for node in supply.get("node", []))
    yield from (("stage", " ".join(_texts(row.get("tubes")))) for row in known.toml.tables("stage"))


def _mains(data: dict[str, Any]) -> str:
    found = [amount(data["mains_v"], "V") if "mains_v" in data else "",
             amount(data["mains_hz"], "Hz") if "mains_hz" in data else "",
             f"{data['design_mains_v']:g} V on the nameplate" if "design_mains_v" in data else "",
             f"up to {data['mains_high_v']:g} V" if "mains_high_v" in data else "",
             f"down to {data['mains_low_v']:g} V" if "mains_low_v" in data else ""]
    return "mains: " + (", ".join(x for x in found if x) or "none")


def _heater(row: dict[str, Any]) -> str:
    found = [amount(row["volts"], "V") if "volts" in row else "",
             amount(row["amps"], "A", "heater_a") if "amps" in row else "amperes not known",
             f"order {' '.join(row['order'])}" if row.get("order") else "",
             f"dropper {row['dropper']}" if row.get("dropper") else ""]
    return ", ".join(x for x in found if x)


def _supply(row: dict[str, Any], known: Known) -> str:
    source = row.get("source", "from a node" if "from" in row else "mains")
    halves = " each half" if row.get("circuit") == "full-wave" or source == "vibrator" else ""
    volts = row.get("secondary_v", row.get("volts"))
    by = row.get("rectifier")
    found = [row.get("polarity") if row.get("polarity") == "negative" else "",
             f"from {row['from']}" if "from" in row else source if source in ("battery", "vibrator") else "",
             f"{row.get('circuit', '')}{f' by {_called(by, known)}' if by else ''}".strip(),
             "choke input" if row.get("input") == "choke" else "",
             f"{amount(volts, 'V')}{halves}" if volts is not None else ""]
    for key, unit, label in _SUPPLY:
        if row.get(key) is not None:
            found.append(f"{label} {amount(row[key], unit)}".strip())
    found += [f"on winding {row['winding']}" if "winding" in row else "",
              f"heats {row['heats']}" if "heats" in row else "",
              f"minus through {row['minus_through']}" if "minus_through" in row else "",
              "nodes " + " ".join(str(n.get("id")) for n in row["node"]) if row.get("node") else ""]
    return ", ".join(x for x in found if x) or "nothing yet"


def _node(row: dict[str, Any], known: Known) -> str:
    named = {one for _, supply in known.toml.supplies() for node in supply.get("node", [])
             for chain in _texts(node.get("capacitors")) for one in chain.split("+")}
    at = [p.ref for p in known.parts.values() if p.is_at(str(row.get("id"))) and p.kind == "capacitor"
          and not named & {f"{p.ref}{letter}" for letter in p.sections}]
    capacitors = list(dict.fromkeys([*_texts(row.get("capacitors")), *at]))
    found = [f"from {row['from']}" if "from" in row else "first of its supply",
             f"through {row['through']}" if "through" in row else "directly" if "from" in row else "",
             f"capacitors {' '.join(capacitors)}" if capacitors else "",
             f"feeds {' '.join(_texts(row['tubes']))}" if row.get("tubes") else "",
             f"load {amount(row['load_a'], 'A')}" if "load_a" in row else "",
             f"load {amount(row['load_ohm'], 'ohm')}" if "load_ohm" in row else "",
             f"held by {' '.join(_texts(row['regulator']))}" if "regulator" in row else "",
             f"switched by {row['standby']}" if "standby" in row else ""]
    return ", ".join(x for x in found if x)


def _stage(row: dict[str, Any], known: Known) -> str:
    found = []
    for lead in _LEADS:
        to = row.get("cathode_to") if lead == "cathode" else row.get(lead)
        through = _texts(row.get(f"{lead}_through")) or _by_role(lead, row, known)
        said = f"{to:g} V" if isinstance(to, int | float) else str(to or "")
        if lead == "screen" and said.startswith("plate"):
            said = "tied to the plate" if said == "plate" else f"on a tap at {said.removeprefix('plate ')}"
        if lead == "plate" and not to:
            said = "its node is not said yet"
        if said or through:
            found.append(f"{lead} {said}{' through ' if said and through else ''}{' '.join(through)}")
    found.append(str(row.get("service", "")))
    if "signal_a" in row:
        found.append(f"at full signal {amount(row['signal_a'], 'A')}")
    return "; ".join(x for x in found if x)


def _by_role(lead: str, row: dict[str, Any], known: Known) -> list[str]:
    """The parts that their own roles put into a lead."""
    role = {"plate": "plate load", "cathode": "cathode", "grid": "grid leak"}.get(lead, lead)
    tubes = {folded(tube) for tube in _texts(row.get("tubes"))}
    places = {str(known.place(tube, "part") or tube) for tube in _texts(row.get("tubes"))}
    refs = {place.split()[0] for place in places}
    return [p.ref for p in known.parts.values() if p.role == role
            and any(str(a) in places or folded(str(a)) in tubes or (a.section is None and a.ref in refs) for a in p.at)]


def _called(ref: str, known: Known) -> str:
    part = known.parts.get(ref)
    return f"{ref} ({part.called})" if part is not None else f"{ref}, not listed yet"


def _texts(value: Any) -> list[str]:
    return [value] if isinstance(value, str) else [str(v) for v in value] if isinstance(value, list) else []
