"""The order closed: advice tried in the unit, checked again, and mended until what it buys passes its own checks."""


from pipeline.bench.fitted import with_new_parts
from pipeline.bench.parts import Advice, Replacement
from pipeline.bench.replacements import USUAL_DEPTH, advise
from pipeline.catalogue import Catalogue
from pipeline.checks.accounting import parts_of
from pipeline.checks.check import Checked, check
from pipeline.checks.findings import Finding
from pipeline.records import Record, replace
from pipeline.unit import Unit

ROUNDS = 4


class Closed(Record):
    """Advice, the unit before it, and the unit as it will stand with it: `replaced` are the parts that are new."""

    before: Checked
    advice: Advice
    after: Checked

    @property
    def replaced(self) -> frozenset[str]:
        """Refs of the new parts as the unit then lists them."""
        return new_parts(self.before.unit, self.after.unit)

    def faults(self) -> list[Finding]:
        """Stops on a new part, and stops elsewhere that were not there before."""
        return faults(self.before, self.after)


def new_parts(before: Unit, after: Unit) -> frozenset[str]:
    """Refs of the parts that were not in the unit, or were another part there."""
    return frozenset(ref for ref, part in after.parts.items()
                     if ref not in before.parts or part.note != before.parts[ref].note
                     or part.marking != before.parts[ref].marking)


def faults(before: Checked, after: Checked) -> list[Finding]:
    """What the new parts have not mended on themselves, or have brought about elsewhere."""
    new = new_parts(before.unit, after.unit)
    stopped = {(f.check, f.subject) for f in before.findings if f.verdict == "stop"}
    return [f for f in after.findings if f.verdict == "stop" and (
        new.intersection(named_in(f, after.unit)) or (f.check, f.subject) not in stopped)]


def named_in(finding: Finding, unit: Unit) -> set[str]:
    """Refs of the parts that a finding is about, without those it only covers, such as all tubes of a winding.

    A winding's current bears the rectifier's ref, but no rectifier mends it.
    """
    return set() if finding.check == "winding-current" else set(parts_of(replace(finding, covers=()), unit))


def close(checked: Checked, catalogue: Catalogue, depth: str = USUAL_DEPTH) -> Closed:
    """Advice for a checked unit that passes when fitted, so far as new parts alone can bring that about.

    New parts change volts and currents: each round counts what the last one has brought about; where more
    microfarads than before carry the volts too far elsewhere, none are added. Of the rounds the one with the fewest
    faults counts.
    """
    tried: list[Checked] = []
    best: Closed | None = None
    for number in range(ROUNDS):
        advice = advise(checked, catalogue, depth, tried, gentle=number > 1)
        after = check(with_new_parts(checked.unit, advice.buy, catalogue, advice.out), catalogue)
        closed = Closed(checked, advice, after)
        if best is None or len(closed.faults()) < len(best.faults()):
            best = closed
        if not best.faults():
            break
        tried.append(after)
    assert best is not None
    return _withheld(best, catalogue)


def _withheld(closed: Closed, catalogue: Catalogue) -> Closed:
    """Without the parts whose fitting does harm that no choice of part mends: they wait until the cause is mended.

    A new tube that the circuit would burn as it did the old one; the right tube for a wrong one where its winding
    cannot feed it; a resistor of the right ohms with which another part is overloaded.
    """
    for i, line in enumerate(closed.advice.buy):
        found = closed.faults()
        if not found:
            break
        if line.verdict not in ("pass", "caution"):
            continue
        lines = list(closed.advice.buy)
        lines[i] = replace(line, verdict="stop")
        without = _with(closed, lines, catalogue)
        mended = [f for f in found if (f.check, f.subject) not in {(x.check, x.subject) for x in without.faults()}]
        if mended:
            lines[i] = replace(lines[i], why=f"{line.why} Not bought before this is mended: {mended[0].why}",
                               rests_on=(*line.rests_on, *mended[0].rests_on))
            closed = replace(without, advice=replace(closed.advice, buy=lines))
    return closed


def _with(closed: Closed, lines: list[Replacement], catalogue: Catalogue) -> Closed:
    """The same with other lines bought."""
    advice = replace(closed.advice, buy=lines)
    fitted = with_new_parts(closed.before.unit, lines, catalogue, advice.out)
    return Closed(closed.before, advice, check(fitted, catalogue))
