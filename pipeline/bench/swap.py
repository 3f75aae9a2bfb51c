"""Another tube in a place: every check run again, and what would change, before anyone plugs it in."""

from collections.abc import Iterator
from typing import Any

from pipeline.catalogue import Catalogue, Ratings
from pipeline.checks.check import Checked, check
from pipeline.checks.findings import Finding
from pipeline.point.devices import typical_draw
from pipeline.point.quantities import Quantity
from pipeline.records import OpenRecord, Record, asdict, field, replace
from pipeline.unit import Part, Unit, identify

VERDICTS = ("fits", "fits with conditions", "cannot tell", "does not fit")
LIMITS = ("plate_max_v", "plate_dissipation_max_w", "screen_max_v", "screen_dissipation_max_w", "cathode_max_a")
SAME_WITHIN = 0.02
ALIKE_WITHIN = 0.15
"""Gain and transconductance further apart than this change how the stage works (practice)."""
MOST_CANDIDATES = 40
_IDLE = {"nc", "shell", "s", "is", "bp", "ic"}


class Change(Record):
    """One thing that would differ: what, in which unit, before and after."""

    what: str
    before: Any
    after: Any
    unit: str = ""


class Swap(OpenRecord):
    """The unit with `type` in the place `ref`: a verdict, its reasons, and what would change."""

    ref: str
    before: str
    type: str
    verdict: str = "fits"
    reasons: list[str] = field(default_factory=list)
    changes: list[Change] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    called: str = ""
    """The new tube by the name asked for, the catalogue's after it."""

    def worsen(self, verdict: str, reason: str) -> None:
        """Keep the gravest verdict, and every reason."""
        if VERDICTS.index(verdict) > VERDICTS.index(self.verdict):
            self.verdict = verdict
        if reason not in self.reasons:
            self.reasons.append(reason)

    def as_dict(self) -> dict[str, Any]:
        return {"ref": self.ref, "before": self.before, "type": self.type, "verdict": self.verdict,
                "reasons": self.reasons, "changes": [asdict(c) for c in self.changes],
                "findings": [f.as_dict() for f in self.findings]}


def swap(before: Checked, ref: str, name: str, catalogue: Catalogue) -> Swap:
    """Judge the tube called `name` in the place `ref` of a checked unit."""
    old = before.unit.parts[ref]
    unit = with_tube(before.unit, ref, name, catalogue)
    new = unit.parts[ref]
    result = Swap(ref, old.reading.type or old.marking, new.reading.type or name, called=new.called)
    if new.kind != "tube" or new.ratings is None:
        result.worsen("cannot tell", f"{name}: {new.reading.why or 'the catalogue has no ratings for it'}.")
        return result
    after = check(_drawing_alike(unit, before, old, new, result), catalogue)
    _socket(result, old, new, catalogue)
    _said(result, catalogue)
    _new_findings(result, before, after)
    if old.ratings is not None:
        _limits(result, old.ratings, new.ratings)
    _changes(result, before, after, old, new)
    return result


def with_tube(unit: Unit, ref: str, name: str, catalogue: Catalogue) -> Unit:
    """The unit with the tube `name` in the place `ref`, in its stage as the old one was.

    Dropped are the readings that hold with the old one only: its own, those across the parts in its leads, and those
    of the nodes.
    """
    old, in_leads = unit.parts[ref], _in_leads(unit, ref)
    part = Part(ref, name, old.role, old.at, note=old.note, line=old.line)
    kept = tuple(r for r in unit.readings if r.at != ref and r.at not in unit.nodes
                 and not (r.at in in_leads and r.reading == "volts"))
    for lead in in_leads:
        measured = {what: value for what, value in unit.parts[lead].measured.items() if what != "volts"}
        unit = unit.with_part(replace(unit.parts[lead], measured=measured))
    return identify(replace(unit.with_part(part), readings=kept), catalogue)


def _in_leads(unit: Unit, ref: str) -> set[str]:
    """Resistors that lie in the leads of the tube, by its stages or by their own `at`."""
    stages = [s for s in unit.stages if any(place.ref == ref for place in s.tubes)]
    named = {r for s in stages for r in (*s.plate_through, *s.screen_through, *s.cathode_through, *s.grid_through)}
    return named | {p.ref for p in unit.parts_at(ref) if p.kind == "resistor"}


def _drawing_alike(unit: Unit, before: Checked, old: Part, new: Part, result: Swap) -> Unit:
    """The unit with the new tube taken to draw what the old one did, where its own current is not known."""
    supply, state = unit.supply, before.state
    if supply is None or state is None or state.solved is None or typical_draw(new, 250.0) is not None:
        return unit
    nodes = list(supply.nodes)
    for i, node in enumerate(nodes):
        if node.feeds(old.ref):
            volts = state.loaded_v(node.id)
            drawn = typical_draw(old, volts)
            amps = drawn[0] * volts**1.5 if drawn else 0.0
            nodes[i] = replace(node, tubes=tuple(t for t in node.tubes if t.ref != old.ref),
                               load_a=(node.load_a or 0.0) + amps)
            result.worsen("fits with conditions", f"its current is not known: it is taken to draw the "
                          f"{amps * 1000:.0f} mA of the old one.")
    return unit.with_supply(replace(supply, nodes=tuple(nodes)))


def candidates(before: Checked, ref: str, catalogue: Catalogue) -> list[str]:
    """Types that may come into question: what substitutes tables name, then alike types on the same basing."""
    type_ = before.unit.parts[ref].reading.type
    named = catalogue.query(
        "select substitute from {substitutes} where type = ? and relation in ('drop-in', 'conditional') "
        "union select type from {substitutes} where substitute = ? and relation in ('drop-in', 'conditional') "
        "order by 1",
        [type_, type_])
    alike = catalogue.query(
        "select b.type from {tubes} a join {tubes} b using (basing, function, heating) "
        "where a.type = ? and a.basing is not null order by b.type", [type_])
    known = dict.fromkeys(row[0] for row in (*named, *alike))
    return [name for name in known if name != type_][:MOST_CANDIDATES]


def ranked(before: Checked, ref: str, catalogue: Catalogue) -> list[Swap]:
    """Every candidate tried in the place, the best first."""
    found = [swap(before, ref, name, catalogue) for name in candidates(before, ref, catalogue)]
    return sorted(found, key=lambda s: (VERDICTS.index(s.verdict), len(s.reasons), s.type))


def _socket(result: Swap, old: Part, new: Part, catalogue: Catalogue) -> None:
    """Base and pins of both."""
    bases = _both(old, new, "base")
    if bases is None:
        result.worsen("cannot tell", "the base of one of them is not known.")
        return
    if bases[0] != bases[1]:
        result.worsen("does not fit", f"another base: {bases[1]} for {bases[0]}.")
        return
    pins = [_pins(catalogue, p.reading.type) for p in (old, new)]
    if all(pins):
        differ = [f"{pin}: {there[1]} for {there[0]}" for pin in sorted(pins[0].keys() & pins[1].keys())
                  if (there := (pins[0][pin], pins[1][pin]))[0] != there[1] and not _harmless(*there)]
        if differ:
            result.worsen("does not fit", f"other pins ({'; '.join(differ[:4])}).")
        return
    codes = _both(old, new, "basing")
    if codes is None or codes[0] != codes[1]:
        result.worsen("cannot tell", "the pins of one of them are not known.")


def _both(old: Part, new: Part, quantity: str) -> tuple[Any, Any] | None:
    """What the catalogue says of the two tubes; None where it does not know one of them."""
    was, now = old.rating("tubes", quantity), new.rating("tubes", quantity)
    return None if was is None or now is None else (was.value, now.value)


def _harmless(old: str, new: str) -> bool:
    """A pin that is free or a shield in both, or the same electrode of another of several alike sections."""
    return (old in _IDLE and new in _IDLE) or old.rpartition(" ")[2] == new.rpartition(" ")[2]


def _pins(catalogue: Catalogue, type_: str | None) -> dict[str, str]:
    """Pin → section and electrode; a filament counts as a heater, and a cathode joined to it is the same point."""
    rows = catalogue.query("select pin, section, electrode from {pins} where type = ?", [type_])
    return {pin: f"{section or ''} {_joined(electrode)}".strip() for pin, section, electrode in rows}


def _joined(electrode: str) -> str:
    parts = {"f": "h", "f_ct": "h_ct"}
    names = [parts.get(e, e) for e in electrode.split("+")]
    return "h" if "h" in names and set(names) <= {"h", "k"} else "+".join(n for n in names if n not in _IDLE) or "nc"


def _said(result: Swap, catalogue: Catalogue) -> None:
    """What the substitutes table says of the pair."""
    rows = catalogue.query("select relation, condition, evidence from {substitutes} where type = ? and substitute = ?",
                           [result.before, result.type])
    for relation, condition, evidence in rows:
        words = f"{relation}{': ' + condition if condition else ''} ({evidence})."
        if relation == "not a substitute" or relation == "other base":
            result.worsen("does not fit", words)
        elif relation == "other heater" or relation == "conditional":
            result.worsen("fits with conditions", words)


def _new_findings(result: Swap, before: Checked, after: Checked) -> None:
    """Findings that are graver than before the swap."""
    old = {(f.check, f.subject): f.verdict for f in before.findings}
    gravity = {"pass": 0, "caution": 1, "unknown": 2, "stop": 3}
    meaning = {"stop": "does not fit", "unknown": "cannot tell", "caution": "fits with conditions"}
    for finding in after.findings:
        was = old.get((finding.check, finding.subject), "pass")
        if gravity[finding.verdict] > gravity[was]:
            result.findings.append(finding)
            result.worsen(meaning[finding.verdict], finding.why)


def _limits(result: Swap, old: Ratings, new: Ratings) -> None:
    """Section limits lower than the old tube's, and characteristics that differ."""
    for section, rows in _sections(old).items():
        other = _sections(new).get(section)
        if other is None:
            continue
        for name in LIMITS:
            if name in rows and name in other and other[name].value < rows[name].value * (1 - SAME_WITHIN):
                result.worsen("fits with conditions", f"{_words(name)} {other[name].value:g} {other[name].unit}, "
                              f"the old one bore {rows[name].value:g} {rows[name].unit}: check it.")
        for name in ("mu", "gm_s"):
            if name in rows and name in other and abs(other[name].value / rows[name].value - 1) > ALIKE_WITHIN:
                result.worsen("fits with conditions", f"{_words(name)} {_value(other[name])} for {_value(rows[name])}: "
                              "gain and bias change.")


def _value(figure) -> str:
    return f"{figure.value * 1000:g} mA/V" if figure.quantity == "gm_s" else f"{figure.value:g}"


def _sections(ratings: Ratings) -> dict[str, dict]:
    return {subject.partition("/")[2]: row for subject, row in ratings.rows("sections").items()}


def _words(name: str) -> str:
    return {"plate_max_v": "plate volts", "plate_dissipation_max_w": "plate dissipation",
            "screen_max_v": "screen volts", "screen_dissipation_max_w": "screen dissipation",
            "cathode_max_a": "cathode current", "mu": "gain factor", "gm_s": "transconductance"}[name]


def _changes(result: Swap, before: Checked, after: Checked, old: Part, new: Part) -> None:
    """Numbers side by side: heater, winding load, node volts, switch-on volts, plate rating."""
    for name, unit in (("heater_v", "V"), ("heater_a", "A")):
        pair = _both(old, new, name)
        if pair is not None and pair[0] != pair[1]:
            result.changes.append(Change(name.replace("_v", " volts").replace("_a", " amps"), *pair, unit))
    loads = {f.subject: f for f in before.findings if f.check == "heater-load"}
    for finding in after.findings:
        was = loads.get(finding.subject) if finding.check == "heater-load" else None
        if was and None not in (was.figure, finding.figure) and was.figure != finding.figure:
            result.changes.append(Change(f"load of {finding.subject} ({finding.limit or 0:g} A)", was.figure,
                                         finding.figure, "A"))
    result.changes += _electrode_changes(before, after, new.ref)
    for node in before.unit.nodes:
        for what, name in (("volts", "dc_v"), ("at switch-on", "cold_start_v")):
            result.changes += _change(f"{node} {what}", before.point.get(node, name), after.point.get(node, name), 0.5)


_ELECTRODES = {"plate_v": "plate volts", "screen_v": "screen volts", "cathode_v": "cathode volts",
               "cathode_a": "cathode current", "plate_w": "plate dissipation", "screen_w": "screen dissipation"}
LEAST_CHANGE = 0.01
"""Share below which a tube's own volts and currents count as the same."""


def _electrode_changes(before: Checked, after: Checked, ref: str) -> Iterator[Change]:
    """What the stage makes of each section, without anyone's readings."""
    for name, words in _ELECTRODES.items():
        for quantity in after.point.quantities.at(ref):
            if quantity.quantity == name:
                was = before.point.get(ref, name, quantity.section)
                least = LEAST_CHANGE * abs(was.expected or 0.0) if was is not None else 0.0
                yield from _change(f"{quantity.place} {words}", was, quantity, least)


def _change(what: str, was: Quantity | None, now: Quantity | None, least: float) -> Iterator[Change]:
    """One line where a quantity differs by this much; nothing where either is not known."""
    if was is None or now is None or was.expected is None or now.expected is None:
        return
    if abs(was.expected - now.expected) >= max(least, 1e-9):
        yield Change(what, _short(was.expected), _short(now.expected), now.unit)


def _short(value: float) -> float:
    return float(f"{value:.4g}")
