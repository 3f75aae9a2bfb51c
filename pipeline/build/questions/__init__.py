"""What the chosen figures leave open: places where two of them cannot both be right, and no rule can say which.

An audit's fault stops the build, for one row is wrong. A question does not: both figures may stand in their documents
as they are, a maker's own chart and his own peak among them. Each is listed in the built table `questions`, so that
whoever has the documents can settle it; none is waived.

One question, one function: `point_against_law` asks `point-against-law`; its docstring says what must hold.
"""

from collections.abc import Callable, Iterator, Mapping

from pipeline.build.questions import points, rectifiers, siblings
from pipeline.build.questions.ground import Chosen, Question
from pipeline.build.reconcile import Reconciled

Rule = Callable[[Chosen], Iterator[Question]]

QUESTIONS: dict[str, Rule] = {rule.__name__.replace("_", "-"): rule for rule in (
    points.point_against_law, rectifiers.corner_against_peak, rectifiers.drop_against_sibling,
    siblings.limits_against_sibling)}
"""Id → the function that asks."""


def questions(done: Mapping[str, Reconciled]) -> Iterator[Question]:
    """Every question that the chosen figures leave open, rule by rule."""
    chosen = Chosen({name: result.rows for name, result in done.items()})
    for name, rule in QUESTIONS.items():
        for question in rule(chosen):
            yield question._replace(rule=name)


__all__ = ["QUESTIONS", "Question", "questions"]
