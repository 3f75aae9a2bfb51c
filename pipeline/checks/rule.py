"""What a rule says and what follows from it: the one place where figures become verdicts."""

from collections.abc import Callable, Iterable, Iterator
from typing import NamedTuple

from pipeline.catalogue import Figure
from pipeline.checks.findings import Finding, figures
from pipeline.point.point import Point
from pipeline.records import Record

CLOSE = 1e-9
"""A figure this near its limit, as a share of it, stands at the limit."""
AT_MOST, AT_LEAST = "at most", "at least"


class Measure(Record):
    """A figure and its limit at one place, as a rule found them.

    `figure` is the unit as it stands, `adverse` the same at the adverse end (None: it has none). `gravest` is what
    passing the limit today comes to. `missing` says what is not known: then the verdict is unknown. `maker` names the
    document whose published operation holds the place: then it passes on the maker's word. `covers` are the parts that
    are accounted for with it besides the subject. Findings show the adverse figure; where the measure `stands`, a stop
    shows today's. `careful` is a caution though the limit is kept: a margin that practice asks for is used up.
    """

    subject: str
    figure: float | None
    limit: float | None
    unit: str | None
    why: str
    do: str = ""
    adverse: float | None = None
    sense: str = AT_MOST
    gravest: str = "stop"
    rests_on: tuple[Figure | None, ...] = ()
    missing: bool = False
    maker: str = ""
    covers: tuple[str, ...] = ()
    stands: bool = False
    careful: bool = False


class Fact(Record):
    """Something that holds at a place or does not, without a figure; `holds` None where that cannot be told."""

    subject: str
    holds: bool | None
    why: str
    do: str = ""
    gravest: str = "stop"
    rests_on: tuple[Figure | None, ...] = ()
    covers: tuple[str, ...] = ()


class Rule(NamedTuple):
    """A rule of the register: the check it is of, and the function that measures a unit's point for it."""

    check: str
    measure: Callable[[Point], Iterable[Measure | Fact]]


def passed(figure: float, limit: float, sense: str = AT_MOST) -> bool:
    """Whether a figure lies beyond its limit."""
    slack = CLOSE * abs(limit)
    return figure > limit + slack if sense == AT_MOST else figure < limit - slack


def verdict(measure: Measure) -> str:
    """Stop (or what is gravest) past the limit today, caution only at the adverse end, unknown without a figure."""
    if measure.missing or measure.figure is None or measure.limit is None:
        return "unknown"
    if measure.maker:
        return "pass"
    if passed(measure.figure, measure.limit, measure.sense):
        return measure.gravest
    if measure.careful or (measure.adverse is not None and passed(measure.adverse, measure.limit, measure.sense)):
        return "caution"
    return "pass"


def finding(check: str, found: Measure | Fact) -> Finding:
    """The finding of what a rule found."""
    if isinstance(found, Fact):
        said = "unknown" if found.holds is None else "pass" if found.holds else found.gravest
        return Finding(check, found.subject, said, None, None, None, found.why, "" if said == "pass" else found.do,
                       figures(*found.rests_on), covers=found.covers)
    said = verdict(found)
    return Finding(check, found.subject, said, _decides(found, said), found.limit, found.unit, found.why,
                   "" if said == "pass" else found.do, figures(*found.rests_on), sense=found.sense,
                   covers=found.covers)


def _decides(measure: Measure, said: str) -> float | None:
    """The figure that is shown: the adverse one, or today's where the measure stands past its limit already."""
    if measure.figure is None or measure.adverse is None or measure.maker:
        return measure.figure
    return measure.figure if measure.stands and said in ("stop", "unknown") else measure.adverse


def judged(rules: Iterable[Rule], point: Point) -> Iterator[Finding]:
    """Every finding of the rules about a unit."""
    return (finding(rule.check, found) for rule in rules for found in rule.measure(point))
