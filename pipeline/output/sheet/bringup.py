"""The first power-up on the sheet: steps to tick, bands to expect, boxes for the readings, and when to stop."""

from pipeline.bench.bringup import BringUp, Step
from pipeline.bench.expected import Expected
from pipeline.output.bench import amount, band, beside, duration, reading_words
from pipeline.output.safe import html
from pipeline.output.sheet.boxes import reading_box
from pipeline.output.sheet.markup import Markup, el, own, prose, section, table, tick

WAYS = {"neither": "neither lamp nor variable transformer", "series lamp": "a series lamp",
        "variable transformer": "a variable transformer"}
MIDDLE = 0.05
"""A value this near the middle of its band need not be named beside it."""


def bringup_section(made: BringUp, boxes: frozenset[tuple[str, str]] = frozenset()) -> Markup:
    """Every step of the bring-up; a warning is printed where it comes first.

    What has its box at full mains before (`boxes`: place and reading) is not printed again on paper.
    """
    said: set[str] = set()
    steps = []
    for number, step in enumerate(made.steps, 1):
        steps.append(_step(number, step, [x for x in step.stop if x not in said], boxes))
        said.update(step.stop)
    first = [n for n in made.notes if n.startswith("Do not ")]
    others = [n for n in made.notes if n not in first]
    return section("bringup", f"First power-up, with {WAYS.get(made.way, made.way)}",
                   *(el("p", el("b", prose(n)), class_="halt") for n in first),
                   el("ul", *(el("li", prose(n)) for n in others)) if others else None, *steps)


def _step(number: int, step: Step, stop: list[str], boxes: frozenset[tuple[str, str]]) -> Markup:
    """What to do, what to expect with boxes, how long to wait, and when to stop."""
    head = el("h3", tick(f"step {number} done"), f" {number}. {step.title}")
    do = el("ul", *(el("li", prose(x)) for x in step.do))
    before = [x for x in step.expect if step.condition == "full" and (html(str(x.at)), x.reading) in boxes]
    made = _table(f"Step {number}: {step.title}", [x for x in step.expect if x not in before], number, step)
    again = _table(f"Step {number}: what has a box above", before, number, step, " screen")
    told = el("p", "Here too: the boxes under Supply volts, Heater volts and Tubes.",
              class_="paper") if before else None
    wait = el("p", el("b", "Wait: "), f"{duration(step.wait_s)}.") if step.wait_s else None
    now = [el("p", el("b", f"{', '.join(places)}: "), prose(f"as it stands now, not to be aimed at: {why}"))
           for why, places in beside(step).items()]
    look = el("ul", *(el("li", prose(x)) for x in step.otherwise)) if step.otherwise else None
    halt = [el("p", el("b", "Stop: "), prose(x), class_="halt") for x in stop]
    return el("article", head, do, told, made, again, *now, wait, el("p", el("b", "If not:")) if look else None, look,
              *halt, class_="step")


def _table(caption: str, found: list[Expected], number: int, step: Step, also: str = "") -> Markup | None:
    rows = [_expect(x, number, step) for x in found]
    return table(caption, ("At", "Reading", "Expect", "Read"), rows, class_=f"steps{also}") if rows else None


def _expect(found: Expected, number: int, step: Step) -> tuple[object, ...]:
    name = reading_words(found.reading)
    most = max((abs(x) for x in (found.low, found.high) if x is not None), default=0.0)
    box = reading_box(f"step {number}: {name} read at {found.at}", found.at, found.reading, most=most,
                      condition=step.condition, step=step.title)
    return own(found.at), name, _band(found), box


def _band(found: Expected) -> str:
    """The band, and where in it the reading should lie unless that is its middle."""
    if found.value is None:
        return band(found)
    if found.low is not None and found.high is not None:
        middle = (found.low + found.high) / 2
        if abs(found.value - middle) <= MIDDLE * abs(middle):
            return band(found)
    return f"about {amount(found.value, found.unit)}; {band(found)}".removesuffix("; ")
