"""All checks of a unit in one run."""

from typing import NamedTuple

from pipeline.catalogue import Catalogue, Figure
from pipeline.checks.capacitors import Role, roles_of
from pipeline.checks.findings import Finding, in_order
from pipeline.checks.heaters import heater_findings
from pipeline.checks.parts import part_findings
from pipeline.checks.register import RULES
from pipeline.checks.rule import judged
from pipeline.point.mains import Mains
from pipeline.point.point import Point, operating_point
from pipeline.point.supply import SupplyState
from pipeline.unit import Unit


class Checked(NamedTuple):
    """A unit with its operating point, its capacitor roles and all its findings, gravest first."""

    unit: Unit
    point: Point
    roles: dict[str, Role]
    findings: list[Finding]

    @property
    def mains(self) -> Mains:
        return self.point.mains

    @property
    def state(self) -> SupplyState | None:
        """The main supply, worked out."""
        return self.point.main

    @property
    def status(self) -> int:
        """Exit status: 1 with a stop, 3 with something unknown and no stop, else 0."""
        verdicts = {f.verdict for f in self.findings}
        return 1 if "stop" in verdicts else 3 if "unknown" in verdicts else 0

    @property
    def recalled(self) -> list[Figure]:
        """The recalled figures the findings rest on, each once."""
        found = [f for finding in self.findings for f in finding.rests_on if f.evidence == "recalled"]
        return sorted(set(found), key=lambda f: (f.subject, f.quantity))


def check(unit: Unit, catalogue: Catalogue, point: Point | None = None) -> Checked:
    """Run every check over the unit; `point` is its operating point, where that is worked out already."""
    point = operating_point(unit, catalogue) if point is None else point
    mains, state = point.mains, point.main
    roles = roles_of(catalogue)
    findings = [
        *part_findings(unit), *heater_findings(unit, mains, state), *judged(RULES, point)]
    return Checked(unit, point, roles, in_order(findings))
