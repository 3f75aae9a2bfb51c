"""Which capacitors are replaced: findings, readings, what the old part is, its role, and how deep one goes."""

import re
from collections.abc import Collection, Mapping

from pipeline.bench.parts import DEPTHS, Choice
from pipeline.catalogue import Figure
from pipeline.checks.check import Checked
from pipeline.checks.findings import Finding
from pipeline.electrics.capacitors import motor_run_fails_below
from pipeline.unit import LETTERS, Part

Row = dict[str, Figure]
About = dict[str, list[Finding]]
PART_CHECKS = ("capacitor-kind", "capacitor-voltage", "capacitor-ripple", "capacitor-value", "largest-input-capacitor",
               "leakage-current")
"""Findings about a capacitor that a right new part cures."""
MOST_READ = 400
_CALLED = (
    r"(?i)(?<!not )(?<!nor )(?<!no )(?<!never )\b(?:missing|fehlt|manquant|mancante|cracked|broken|smashed|burst|"
    r"exploded|vented|bulging|bulged|swollen|leaking|leaky|leaks|ausgelaufen|open(?: circuit)?(?=$|[;,.)])|shorted|"
    r"unterbrochen|short(?: circuit)?(?=$|[;,.)])|burnt|burned|charred|verbrannt|dead|dried out|one leg off|"
    r"lead broken)\b")
"""Words that a restorer writes of a part that must go (practice)."""
ROLELESS_FROM_UF = 0.001
"""Guide by value: smaller ones are mica or ceramic and stay (practice)."""


def by_subject(checked: Checked) -> About:
    """Subject → its findings; a finding about `C1 and C2` stands under both."""
    found: About = {}
    for finding in checked.findings:
        for subject in finding.subject.split(" and "):
            found.setdefault(subject, []).append(finding)
    return found


def bad_findings(part: Part, about: About, refs: Collection[str]) -> list[Finding]:
    """Findings that stop or cannot tell about the part or one of its sections, that a new part may cure."""
    own = [part.ref, *(f"{part.ref}{letter}" for letter in LETTERS if f"{part.ref}{letter}" not in refs)]
    grave = ("stop",) if part.is_new else ("stop", "unknown")
    return [f for name in own for f in about.get(name, ()) if f.check in PART_CHECKS and f.verdict in grave]


def choose(part: Part, role: Row | None, old: Row | None, bad: list[Finding], depth: str,
           allowances: Mapping[str, Figure]) -> Choice:
    """Whether the capacitor, with its `bad_findings`, is to be replaced at this depth, and why or why not."""
    if bad:
        return Choice(True, bad[0].why.rstrip("."), bad[0].rests_on,
                      {f.subject: f.why.rstrip(".") for f in reversed(bad)})
    if faulty := fault_measured(part, role, allowances):
        return faulty
    if part.is_new:
        return Choice(False, "it is new")
    if called := fault_called(part):
        return Choice(True, f"called {called}")
    if old is not None and old["replace"].value == "leave":
        return Choice(False, f"{old['replace'].subject}: {old['ageing'].value}", (old["replace"],))
    if old is not None and old["replace"].value == "always" and not is_electrolytic(part, role):
        return _from_depth("usual", depth, f"{old['replace'].subject}: {old['ageing'].value}", (old["replace"],))
    if role is None:
        return _without_role(part)
    policy = role.get("replace")
    if policy is None or policy.value == "leave":
        return Choice(False, f"in the role {part.role} it keeps well", (policy,) if policy else ())
    why = f"an old {'electrolytic' if is_electrolytic(part, role) else 'part'} in the role {part.role}"
    if policy.value == "always":
        dangerous = "safety_class" in role or is_electrolytic(part, role)
        return _from_depth("supply" if dangerous else "usual", depth, why, (policy,))
    return _from_depth("all", depth, f"{why} is replaced only if faulty: measure it", (policy,))


def fault_called(part: Part) -> str | None:
    """The word by which its marking or note calls the part bad; None where none does, or it is new."""
    found = None if part.is_new else re.search(_CALLED, part.said[:MOST_READ])
    return found[0].lower() if found else None


def is_electrolytic(part: Part, role: Row | None) -> bool:
    """Marked so, or of a role that electrolytics usually fill and not of paper or film by its value."""
    if part.reading.polarised is not None:
        return part.reading.polarised
    usual = role is not None and role["kinds"].value.startswith("electrolytic")
    return usual and max(s.uf for s in part.reading.sections) >= 1


def _from_depth(least: str, depth: str, why: str, rests_on: tuple[Figure, ...]) -> Choice:
    if DEPTHS.index(depth) >= DEPTHS.index(least):
        return Choice(True, why, rests_on)
    return Choice(False, f"{why}; left at depth {depth}", rests_on)


def _without_role(part: Part) -> Choice:
    uf = max(s.uf for s in part.reading.sections)
    if uf < ROLELESS_FROM_UF:
        return Choice(False, "by its value mica or ceramic, and those keep well")
    if part.reading.polarised:
        return Choice(True, "an old electrolytic")
    return Choice(True, "no role is given")


def fault_measured(part: Part, role: Row | None, allowances: Mapping[str, Figure]) -> Choice | None:
    """What the part's own readings say against it, or None."""
    leaks, drifts = allowances["coupling leakage"], allowances["motor capacitor drift"]
    uf, leak = part.measured.get("uf"), part.measured.get("leakage_a")
    marked = part.reading.sections[0].uf
    if uf is not None and len(part.reading.sections) == 1:
        low, high = band_pct(part, role)
        if part.role == "motor run" and uf < float(motor_run_fails_below(marked)):
            return Choice(True, f"measures {uf:g} µF, marked {marked:g} µF: failed", (drifts,))
        if part.role != "motor run" and not marked * (1 + low / 100) * 0.999 <= uf <= marked * (1 + high / 100) * 1.001:
            return Choice(True, f"measures {uf:g} µF, marked {marked:g} µF")
    if leak is not None and not is_electrolytic(part, role) and leak > leaks.value:
        return Choice(True, f"leaks {leak * 1e6:.3g} µA", (leaks,))
    return None


def band_pct(part: Part, role: Row | None) -> tuple[float, float]:
    """Least and most percent that the part may be off its marking: its own tolerance, else its role's."""
    if part.reading.tolerance_band_pct:
        return part.reading.tolerance_band_pct
    if role is not None and "tolerance_low_pct" in role and "tolerance_high_pct" in role:
        return role["tolerance_low_pct"].value, role["tolerance_high_pct"].value
    return (-10.0, 50.0) if is_electrolytic(part, role) else (-20.0, 20.0)
