"""A unit as one circuit: every node, electrode, resistor, tube and source of it, with a value for each corner."""

from collections.abc import Iterable, Mapping, Sequence
from math import hypot
from typing import NamedTuple

import numpy as np

from pipeline.catalogue import Figure
from pipeline.electrics.circuit import Draw, Regulator, Resistor, Source, Tube
from pipeline.electrics.stages import Law
from pipeline.point.corners import Corner
from pipeline.point.laws import SectionLaw
from pipeline.point.leads import Lead, Ohms
from pipeline.point.mains import Mains
from pipeline.point.wiring import Wired
from pipeline.records import OpenRecord, field
from pipeline.unit import Place, Unit

CHASSIS = 0
CLAMP_OHM, OPEN_OHM = 1e-3, 1e12
"""A reading holds its node through the first where it counts, through the second where it does not."""
HELD = ("today", "design")
"""Corners at which a reading of volts holds; at design mains in proportion to the line."""
LEAST_OHM = 1e-3
"""What lies in a lead whose part has none: chokes of unknown resistance and plain wire."""
End = str | tuple[str, int] | None


class Feed(NamedTuple):
    """A source of the circuit: the supply it stands for, its node, and the minus node where it has one."""

    supply: str
    node: int
    minus: int


class LeadAt(NamedTuple):
    """A part between two points of the circuit, `end` the one away from the supply, and its number of resistor."""

    ref: str
    to: int
    end: int
    element: int
    rests_on: tuple[Figure, ...] = ()


class Circuit(OpenRecord):
    """A unit's elements; figures are arrays over the corners, one value each."""

    unit: Unit
    mains: Mains
    corners: tuple[Corner, ...]
    wired: list[Wired]
    laws: list[SectionLaw | None]
    numbers: dict[End, int] = field(default_factory=lambda: {None: CHASSIS})
    resistors: list[Resistor] = field(default_factory=list)
    tubes: list[Tube] = field(default_factory=list)
    draws: list[Draw] = field(default_factory=list)
    regulators: list[Regulator] = field(default_factory=list)
    clamps: list[Source] = field(default_factory=list)
    feeds: list[Feed] = field(default_factory=list)
    leads: list[LeadAt] = field(default_factory=list)
    drawn_by: list[tuple[str, Place | None]] = field(default_factory=list)
    regulated: list[tuple[str, tuple[str, ...]]] = field(default_factory=list)

    @property
    def size(self) -> int:
        """Points of the circuit, the chassis among them."""
        return len(self.numbers)

    def number(self, end: End) -> int:
        """The number of a node or of the end of a lead; a new one gets the next."""
        return self.numbers.setdefault(end, len(self.numbers))

    def row(self, name: str) -> int | None:
        """Index of the corner of that name; None where it is not worked out."""
        return next((i for i, c in enumerate(self.corners) if c.name == name), None)

    def where(self, **values: float) -> np.ndarray:
        """One value a corner by its mains: today, high, design."""
        return np.array([values[c.mains] for c in self.corners])

    @property
    def ratio(self) -> np.ndarray:
        """Mains over design mains at each corner."""
        return self.where(today=self.mains.today, high=self.mains.high, low=self.mains.low, design=1.0)

    @property
    def key(self) -> tuple:
        """What must be alike for two units to be solved in one batch."""
        return (
            self.size, len(self.corners), tuple((r.a, r.b) for r in self.resistors),
            tuple((t.plate, t.screen, t.grid, t.cathode) for t in self.tubes), tuple(d.node for d in self.draws),
            tuple((r.a, r.b) for r in self.regulators), tuple(c.node for c in self.clamps),
            tuple(f[1:] for f in self.feeds))

    def of_side(self, ohms: Ohms) -> np.ndarray:
        """Ohms at each corner: low, nominal or high by its side."""
        values = {-1: ohms.low, 0: ohms.nominal, 1: ohms.high}
        return np.maximum([values[c.ohms] for c in self.corners], LEAST_OHM)

    def add_lead(self, lead: Lead, ohms: Ohms) -> int:
        """The point at a lead's electrode; its part becomes a resistor the first time it is met."""
        end = self.number(lead.end)
        if lead.through is not None and not any(at.end == end for at in self.leads):
            self.between(lead.through, self.number(lead.to), end, ohms)
        return end

    def lead_at(self, lead: Lead) -> LeadAt | None:
        """The part in a lead, as it lies in the circuit; None where nothing lies in it."""
        end = self.numbers.get(lead.end)
        return next((at for at in self.leads if lead.through is not None and at.end == end), None)

    def between(self, ref: str, a: int, b: int, ohms: Ohms) -> None:
        """A resistive part from a to b."""
        self.leads.append(LeadAt(ref, a, b, len(self.resistors), ohms.rests_on))
        self.resistors.append(Resistor(a, b, self.of_side(ohms)))

    def clamp(self, node: int, volts: float) -> None:
        """Hold a node at a reading at today's mains, and at design mains in proportion."""
        held = np.array([CLAMP_OHM if c.name in HELD else OPEN_OHM for c in self.corners])
        self.clamps.append(Source(node, volts * self.ratio / self.mains.today, held))

    def held(self, end: End) -> bool:
        """Whether a reading holds that point."""
        return end in self.numbers and any(c.node == self.numbers[end] for c in self.clamps)

    def volts_source(self, end: End, volts: np.ndarray) -> int:
        """A point that stands at given volts at each corner: a grid."""
        node = self.number(end)
        if not any(c.node == node for c in self.clamps):
            self.clamps.append(Source(node, volts, np.full(len(self.corners), CLAMP_OHM)))
        return node


def strengths(corners: Sequence[Corner], spread_pct: float, error_pct: float) -> np.ndarray:
    """Factor on a tube's current at each corner: the spread of its type and the law's own error together."""
    both = hypot(spread_pct, error_pct) / 100
    return np.array([1.0 + c.tube * both for c in corners])


def with_fixed(tubes: Iterable[Tube], fixed: Sequence[np.ndarray | None]) -> list[Tube]:
    """The tubes, those with a known current held at it."""
    return [t if a is None else t._replace(fixed_a=a) for t, a in zip(tubes, fixed, strict=True)]


def bare_law(amps: float, volts: float) -> Law:
    """The law of a section of which only a measured current is known: it rises as the plate's volts to the 1.5."""
    return Law(amps / max(volts, 1.0) ** 1.5, 1.0, np.inf, 0.0, 0.0)


def spread_of(allowances: Mapping[str, Figure], fixed_bias: bool) -> tuple[float, float, tuple[Figure, ...]]:
    """Per cent of spread of tubes and of error of the law, and the figures they are."""
    error = allowances["fixed-bias law error" if fixed_bias else "self-bias law error"]
    spread = allowances["tube spread"]
    return spread.value, error.value, (spread, error)
