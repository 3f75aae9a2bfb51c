"""All checks of a unit in one run."""

from functools import cached_property

from pipeline.catalogue import Catalogue, Figure
from pipeline.checks.accounting import NotJudged, not_judged
from pipeline.checks.capacitors import Role, roles_of
from pipeline.checks.findings import Finding, in_order
from pipeline.checks.register import RULES
from pipeline.checks.rule import judged
from pipeline.point.mains import Mains
from pipeline.point.point import Point, operating_point
from pipeline.point.supply import SupplyState
from pipeline.records import Record
from pipeline.unit import Unit


class Checked(Record):
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

    @cached_property
    def not_judged(self) -> list[NotJudged]:
        """The parts, and the stages of tubes, that no rule could judge."""
        return not_judged(self.point, self.findings)

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
    return Checked(unit, point, roles_of(catalogue), in_order(judged(RULES, point)))
