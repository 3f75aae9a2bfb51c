"""What a finding stops is no target: a reading of it is left out, or has the finding beside it, until it is mended."""

from pipeline.checks.check import Checked
from pipeline.checks.findings import Finding
from pipeline.unit import Unit

_ELECTRODES = ("plate_v", "screen_v", "cathode_v", "grid_v")
_BESIDE = {
    "plate-voltage": ("plate_v",), "screen-voltage": ("screen_v",), "dissipation": ("plate_v", "cathode_v"),
    "screen-dissipation": ("screen_v", "cathode_v"), "cathode-current": ("cathode_v",), "grid-circuit": ("grid_v",),
    "bias": ("grid_v", "cathode_v"),
    **dict.fromkeys(("resistor-power", "choke-current", "capacitor-voltage", "capacitor-kind"), ("volts",)),
}
"""Check → the readings of its subject beside which a stop of it stands."""
_HEATING = ("heater-voltage", "heater-string")
"""Checks that leave no reading to aim at: what a wrong heater gets is a fault, and so is what it leaves the others."""


class Faulty:
    """The places and readings of a checked unit that no bench should aim at."""

    def __init__(self, checked: Checked):
        self._unit = checked.unit
        self._hidden: set[tuple[str, str]] = set()
        self._beside: dict[tuple[str, str], Finding] = {}
        for finding in checked.findings:
            if finding.check in _HEATING and finding.verdict in ("stop", "unknown"):
                self._heater(finding)
            elif finding.verdict == "stop":
                for place in finding.subject.split(" and "):
                    for reading in _BESIDE.get(finding.check, ()):
                        self._beside.setdefault((place, reading), finding)

    def hides(self, at: str, reading: str) -> bool:
        """Whether a reading at a place, or at the whole tube that a section belongs to, is left out."""
        return any(key in self._hidden for key in self._keys(at, reading))

    def beside(self, at: str, reading: str) -> Finding | None:
        """The finding that stops what this reading would show, the gravest of them."""
        return next((self._beside[key] for key in self._keys(at, reading) if key in self._beside), None)

    def _keys(self, at: str, reading: str) -> list[tuple[str, str]]:
        part = self._unit.part_of(at)
        return [(at, reading), *([(part.ref, reading)] if part is not None and part.ref != at else [])]

    def _heater(self, finding: Finding) -> None:
        for subject in finding.subject.split(" and "):
            part = self._unit.part_of(subject)
            refs = {part.ref} if part is not None else set()
            if finding.verdict == "stop":
                self._hidden |= {(subject, reading) for reading in _ELECTRODES}
            string = self._unit.string_of(part) if part is not None else self._unit.strings.get(subject)
            self._hidden |= {(ref, "heater_v") for ref in refs | (members(self._unit, string.id) if string else set())}


def members(unit: Unit, string: str) -> set[str]:
    """Refs of the tubes in a heater string."""
    return {p.ref for p in unit.parts_at(string) if p.kind == "tube"} | set(unit.strings[string].order)
