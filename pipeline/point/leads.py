"""What hangs between an electrode and its supply: ohms with their band, and the end they share with others."""

from collections.abc import Mapping
from typing import NamedTuple

from pipeline.catalogue import Figure
from pipeline.unit import Part


class Ohms(NamedTuple):
    """Resistance of a part: nominal, and the ends of its band; a measured one has no band."""

    nominal: float
    low: float
    high: float
    rests_on: tuple[Figure, ...] = ()


class Lead(NamedTuple):
    """From an electrode through a part (or none) to a node; `to` None is the chassis.

    `half` tells the halves of a push-pull winding apart; electrodes whose leads go through the same part and half
    are joined behind it.
    """

    to: str | None
    through: str | None = None
    half: int = 0

    @property
    def end(self) -> "str | tuple[str, int] | None":
        """The point of the circuit at the electrode: the node itself where nothing lies between."""
        return self.to if self.through is None else (self.through, self.half)


def ohms_of(part: Part, allowances: Mapping[str, Figure], share: float = 1.0) -> Ohms | None:
    """Resistance of a resistor, choke, potentiometer or winding, `share` of it used; None where it is not known.

    A measured value counts as exact, a marked one within its marked tolerance, else within the usual one.
    """
    if measured := part.measured.get("ohms"):
        return Ohms(*(measured * share,) * 3)
    marked = part.reading.ohms
    if not marked:
        return None
    name = "resistor tolerance" if part.kind in ("resistor", None) else "winding band"
    usual = allowances[name]
    pct = part.reading.tolerance_pct
    rests_on = (usual,) if pct is None else ()
    spread = (usual.value if pct is None else pct) / 100
    return Ohms(marked * share, marked * share * (1 - spread), marked * share * (1 + spread), rests_on)


def end_to_end(part: Part) -> bool:
    """Whether the ohms marked are of a whole centre-tapped winding."""
    return "CT" in part.marking.upper().replace(".", "").split() or "C T" in part.marking.upper()
