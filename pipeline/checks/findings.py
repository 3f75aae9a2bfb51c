"""What a check says: a finding with verdict, the two numbers, the reason, and the figures it rests on."""

from collections.abc import Iterable
from typing import Any

from pipeline.catalogue import EVIDENCE, Figure
from pipeline.records import Record

VERDICTS = ("stop", "unknown", "caution", "pass")
"""From what must be seen first to what may be read last."""
_ORDER = {verdict: place for place, verdict in enumerate(VERDICTS)}
_RANK = {grade: rank for rank, grade in enumerate(EVIDENCE)}
AT_MOST, AT_LEAST = "at most", "at least"
"""How a limit binds: the figure may come up to it, or must reach it."""


class Finding(Record):
    """One result of one check; `figure` and `limit` are in `unit`, `do` says what to do about it.

    `sense` says how the limit binds: the figure may be `at most` the limit, or must be `at least` it. `covers` names
    the parts that are accounted for with it besides the subject.
    """

    check: str
    subject: str
    verdict: str
    figure: float | None
    limit: float | None
    unit: str | None
    why: str
    do: str = ""
    rests_on: tuple[Figure, ...] = ()
    sense: str = AT_MOST
    covers: tuple[str, ...] = ()

    @property
    def evidence(self) -> str:
        """Grade of the weakest figure the finding rests on; what the user typed in counts as measured."""
        return weakest([f.evidence for f in self.rests_on])

    @property
    def excess(self) -> float | None:
        """How far the figure passes the limit, below it where that is a least; None where either is not known."""
        if self.figure is None or self.limit is None:
            return None
        return self.limit - self.figure if self.sense == AT_LEAST else self.figure - self.limit

    @property
    def sources(self) -> list[str]:
        return sorted({f.source_id for f in self.rests_on if f.source_id})

    def as_dict(self) -> dict[str, Any]:
        """The finding under the names of the JSON contract."""
        return {
            "check": self.check, "subject": self.subject, "verdict": self.verdict, "figure": rounded(self.figure),
            "limit": rounded(self.limit), "sense": self.sense, "unit": self.unit, "evidence": self.evidence,
            "why": self.why, "do": self.do, "covers": list(self.covers), "sources": self.sources,
            "rests_on": [{"subject": f.subject, "quantity": f.quantity, "value": f.value, "unit": f.unit,
                          "evidence": f.evidence, "source_id": f.source_id} for f in self.rests_on]}


def weakest(grades: Iterable[str]) -> str:
    """The weakest of the grades; `measured` where there is none."""
    return EVIDENCE[max(map(_RANK.__getitem__, grades), default=0)]


def figures(*found: Figure | None) -> tuple[Figure, ...]:
    """The figures that are there, each once."""
    return tuple(dict.fromkeys(f for f in found if f is not None))


def in_order(found: Iterable[Finding]) -> list[Finding]:
    """Findings with the gravest first, otherwise in the order given."""
    return sorted(found, key=lambda f: _ORDER[f.verdict])


def rounded(value: float | None) -> float | None:
    """To six digits, as findings are shown."""
    return None if value is None else float(f"{value:.6g}")
