"""What a new capacitor must bear in an old one's place: microfarads, volts and ripple, and why."""

import math
from collections.abc import Sequence
from typing import NamedTuple

from pipeline.bench.parts import AC_KINDS
from pipeline.catalogue import Figure
from pipeline.checks.check import Checked
from pipeline.checks.first_capacitor import computed_limit, published_limit
from pipeline.electrics.drive import motor_capacitor_volts
from pipeline.electrics.safety import leakage_current, leakage_farad
from pipeline.point.supply import HIGH, SupplyState
from pipeline.point.tree import node_uf, section_uf
from pipeline.records import Record, replace
from pipeline.unit import Part, Place

Row = dict[str, Figure]
FAR_OVERSIZED = 2.0
"""An old electrolytic rated more than this many times the worst volts need not be matched (practice)."""

ENOUGH = 1.2
"""Volts over the worst that serve where no single stocked part matches the old one's rating (practice)."""
LEAKAGE_KNOWN_V = 101.0
"""A link of a chain is rated above 100 V: what smaller parts leak, which the balance must swamp, is not known."""


class Need(Record):
    """What the new part must be: old value, the volts it must bear and why, how large it may be at most.

    `most_why` says what sets the limit, `ripple_a` the rms current it must carry. `enough_v` is what the sum asks for,
    with a margin, where `volts` is the old part's rating. `single` asks for one part alone: it is one of a chain, or a
    half of a doubler. `chain_v` are the volts of the whole chain it stands in, of `links`.
    """

    uf: float
    volts: float | None
    why: str
    most_uf: float = math.inf
    rests_on: tuple[Figure, ...] = ()
    most_why: str = "the rectifier bears no more"
    ripple_a: float | None = None
    caution: str = ""
    enough_v: float | None = None
    single: bool = False
    chain_v: float | None = None
    links: int = 1


class Home(NamedTuple):
    """Where a capacitor hangs in a supply: its state, the node, its share of the node's volts, its chain."""

    state: SupplyState
    node: str
    share: float
    chain: tuple[Place, ...]

    @property
    def halved(self) -> bool:
        """Whether it is a half of a full-wave doubler's first capacitor."""
        return self.state.share(self.node) != 1.0


def home_of(place: Place, checked: Checked) -> Home | None:
    """Where a capacitor, or a section of one, hangs; None where it is in no supply."""
    for state in checked.point.states:
        for found, node, share in state.capacitors():
            if found == place:
                chains = next(b.node for b in state.tree if b.node.id == node).capacitors
                chain = next(c for c in chains if place in c)
                return Home(state, node, share, (place,) if state.share(node) != 1.0 else chain)
    return None


def need_of(part: Part, index: int, role: Row, seen: Sequence[Checked], gentle: bool = False) -> Need:
    """What the new part for one section must bear, in the unit as it is and as it was tried with new parts.

    Parameters
    ----------
    part : Part
        The old capacitor; `index` counts its sections.
    role : Row
        The row of `capacitor_roles` it serves in.
    seen : sequence of Checked
        The unit checked as it stands, and then with parts tried in it: the worst of all counts.
    gentle : bool
        No more microfarads on a node than the old part had.
    """
    kind, section = role["kinds"].value.split(";")[0], part.reading.sections[index]
    if kind in AC_KINDS:
        return _on_the_line(part, section.uf, kind, seen[0])
    place = Place(part.ref, part.sections[index] if part.sections else None)
    needs = [_on_node(part, index, place, home) for checked in seen if (home := home_of(place, checked))]
    if not needs:
        return _elsewhere(part, index, seen)
    worst = max(needs, key=lambda n: n.volts or 0.0)
    limit = min(needs, key=lambda n: n.most_uf)
    most = min(limit.most_uf, section.uf * (1 + 1e-9)) if gentle else limit.most_uf
    rests_on = tuple(dict.fromkeys(f for n in needs for f in n.rests_on))
    why = worst.why if limit.most_uf == math.inf or limit.why == worst.why else f"{worst.why}; {limit.why}"
    why += "; no more than the old value, for more would carry the volts too far elsewhere" \
        if gentle and most < limit.most_uf else ""
    return replace(worst, most_uf=most, why=why, rests_on=rests_on)


def _elsewhere(part: Part, index: int, seen: Sequence[Checked]) -> Need:
    """The need of a capacitor that hangs in no supply: on a tube, at a node it does not smooth, or nobody says where.

    Film costs little for its volts: it is never taken below the old part's.
    """
    section, checked = part.reading.sections[index], seen[0]
    found = [v for c in seen if (v := _worst_v(part, c))]
    if found:
        worst, why, rests_on = max(found, key=lambda v: v[0])
        return Need(section.uf, max(worst, section.volts_dc or 0.0), why, rests_on=rests_on)
    on_tube = any(p.ref in checked.unit.parts for p in part.at)
    highest = [(state.no_load_v(n.id), state) for state in checked.point.states if state.sign > 0 for n in state.nodes]
    if (section.volts_dc is None or on_tube) and highest and part.role in ("coupling", "tone"):
        volts, state = max(highest, key=lambda v: v[0])
        return Need(section.uf, max(volts, section.volts_dc or 0.0), "its own volts are not known: taken for the "
                    f"{volts:.0f} V that {state.id} can reach", rests_on=state.rests_on)
    return Need(section.uf, section.volts_dc, "as the old part")


def _worst_v(part: Part, checked: Checked) -> tuple[float, str, tuple[Figure, ...]] | None:
    """(volts, why, what they rest on) at the worst moment, where they can be known."""
    found = checked.point.get(part.ref, "capacitor_v")
    if found is not None and found.value is not None:
        most = max(found.value, found.most or 0.0)
        upto = f", up to {_v(most)} with tubes cold or strong" if most > found.value * 1.01 else ""
        return most, f"it stands at {_v(found.value)}{upto}", found.rests_on
    tube = checked.unit.parts.get(part.first_at)
    cathode = tube.measured.get("cathode_v") if tube and part.role == "cathode bypass" else None
    if tube is not None and cathode is not None:
        return cathode, f"{tube.ref}'s cathode stands at {cathode:g} V", ()
    for place in part.at:
        state = checked.point.state_of(place.ref)
        if state is not None:
            most = max(state.start_crest_v(place.ref) or 0.0, abs(state.high_v(place.ref) or 0.0))
            return most, f"{place.ref} reaches {most:.0f} V", state.rests_on
        volts = checked.point.get(place.ref, "dc_v")
        if volts is not None and volts.value is not None:
            most = max(abs(v) for v in (volts.value, volts.least, volts.most) if v is not None)
            return most, f"{place.ref} reaches {most:.0f} V", volts.rests_on
    return None


def _on_the_line(part: Part, uf: float, kind: str, checked: Checked) -> Need:
    mains, old = checked.mains, part.reading.volts_ac or 0.0
    volts, why = mains.high_v, f"{mains.high_v:g} V AC mains"
    if part.role in ("motor run", "motor start"):
        volts = max(float(motor_capacitor_volts(mains.high_v)[0]), old)
        why += ", and the auxiliary winding adds to them"
    elif kind == "film ac":
        volts = max(volts, old)
    need = Need(uf, volts, why, rests_on=mains.rests_on)
    if kind != "class Y":
        return need
    may, hurts = (checked.point.allowances[f"touch current{more}"] for more in ("", " that injures"))
    amps = float(leakage_current(uf * 1e-6, mains.high_v, mains.hertz))
    if amps <= may.value:
        return need
    most = float(leakage_farad(may.value, mains.high_v, mains.hertz)) * 1e6
    figures = (*mains.rests_on, may)
    if amps > hurts.value:
        return replace(need, most_uf=most, rests_on=(*figures, hurts),
                       most_why=f"{uf:g} µF would let {amps * 1000:.2g} mA through a person")
    return replace(need, rests_on=figures, caution=f"it lets {amps * 1000:.2g} mA through a person who touches the "
                   f"chassis; where the chassis can be touched take {most * 1000:.2g} nF or less")


def _on_node(part: Part, index: int, place: Place, home: Home) -> Need:
    """The need of one place of a chain, or of a capacitor alone, at a node of any supply."""
    section, state, node = part.reading.sections[index], home.state, home.node
    work, cold = (None if v is None else v * home.share for v in (
        state.capacitor_v(node, HIGH), state.capacitor_start_v(node)))
    worst = max(v for v in (work, cold, 0.0) if v is not None)
    links = len(home.chain)
    halves = " across each half" if home.halved else f", {home.share:.2g} of it across {place}" if links > 1 else ""
    why = f"{node} works at up to {work:.0f} V{halves}, {cold:.0f} V at switch-on" if work and links == 1 else \
        f"{node} reaches {worst / home.share:.0f} V{halves}"
    volts, old = worst, section.volts_dc
    enough = None
    if old and old < FAR_OVERSIZED * worst:
        volts = max(worst, old)
        enough = ENOUGH * worst if ENOUGH * worst < old else None
    elif old:
        why += f"; the old {old:g} V was {old / max(worst, 1.0):.1f} times that, and need not be matched"
    if links > 1:
        volts = max(volts, LEAKAGE_KNOWN_V)
    need = Need(section.uf, volts, why, rests_on=state.rests_on, enough_v=enough, single=links > 1 or home.halved,
                chain_v=worst / home.share if links > 1 else None, links=links)
    total = _node_uf(home)
    own = section_uf(place, state.unit) or section.uf
    if state.solved is not None:
        need = replace(need, ripple_a=_ripple_a(home, own, total))
    if node != state.nodes[0].id or state.supply.input != "capacitor" or state.device.part is None:
        return need
    limits = [x for x in (published_limit(state), computed_limit(state)) if x]
    if not limits:
        return need
    tightest = min(limits, key=lambda x: x.uf)
    said = f"at most {tightest.uf:g} µF on this rectifier" if tightest.uf else tightest.why
    return replace(need, most_uf=tightest.uf * own / total if total else tightest.uf, why=f"{need.why}; {said}",
                   rests_on=(*state.rests_on, *(f for x in limits for f in x.rests_on)))


def _node_uf(home: Home) -> float | None:
    """Microfarads of the node: of each half in a doubler."""
    if home.halved:
        return home.state.reservoir_uf
    return node_uf(next(b.node for b in home.state.tree if b.node.id == home.node), home.state.unit)


def _ripple_a(home: Home, own: float, total: float | None) -> float:
    """Rms ripple amps through one capacitor: through all of a chain the same, by their microfarads side by side."""
    amps = home.state.capacitor_rms_a(home.node, HIGH)
    each = [uf for place in home.chain if (uf := section_uf(place, home.state.unit))]
    chain = 1 / sum(1 / uf for uf in each) if each else own
    share = 1.0 if home.halved or not total else min(chain / total, 1.0)
    pulses = home.state.allowances["ripple rating at mains frequency"].value
    return amps * share / (pulses if home.state.circuit == "half-wave" else 1.0)


def _v(volts: float) -> str:
    return f"{volts:.0f} V" if volts >= 100 else f"{volts:.3g} V"
