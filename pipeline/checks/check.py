"""All checks of a unit in one run."""

from typing import NamedTuple

from pipeline.catalogue import Catalogue, Figure
from pipeline.checks.bias import bias_findings
from pipeline.checks.capacitors import Role, kind_findings, roles_of, voltage_findings
from pipeline.checks.findings import Finding, in_order
from pipeline.checks.heaters import heater_findings
from pipeline.checks.insulation import insulation_findings
from pipeline.checks.mains import Mains, mains_of
from pipeline.checks.parts import part_findings
from pipeline.checks.rectifier import rectifier_findings
from pipeline.checks.ripple import ripple_findings
from pipeline.checks.safety import safety_findings
from pipeline.checks.solving import supply_state
from pipeline.checks.supply import SupplyState
from pipeline.unit import Unit


class Checked(NamedTuple):
    """A unit with its mains, its supply worked out, its capacitor roles and all its findings, gravest first."""

    unit: Unit
    mains: Mains
    state: SupplyState | None
    roles: dict[str, Role]
    findings: list[Finding]

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


def check(unit: Unit, catalogue: Catalogue, state: SupplyState | None = None) -> Checked:
    """Run every check over the unit; `state` is its supply, where that is worked out already."""
    mains = mains_of(unit, catalogue) if state is None else state.mains
    if state is None:
        state = supply_state(unit, mains)
    roles = roles_of(catalogue)
    findings = [
        *part_findings(unit), *heater_findings(unit, mains, state), *insulation_findings(unit, state, mains),
        *rectifier_findings(state),
        *kind_findings(unit, roles), *voltage_findings(unit, state, mains),
        *ripple_findings(state, catalogue.stock), *bias_findings(unit, state), *safety_findings(unit, state, mains)]
    return Checked(unit, mains, state, roles, in_order(findings))
