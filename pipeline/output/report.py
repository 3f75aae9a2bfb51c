"""The results of `check` in each format."""

from collections.abc import Sequence

from pipeline.bench.care import Care
from pipeline.checks.check import Checked
from pipeline.output.tables import as_csv, as_json
from pipeline.output.text import report
from pipeline.output.unjudged import rows

COLUMNS = ["check", "subject", "verdict", "figure", "limit", "sense", "unit", "evidence", "why", "do", "sources"]


def print_check(checked: Checked, replacements: list, format: str, everything: bool = False,
                care: Sequence[Care] = ()) -> None:
    """Print findings, nodes, replacements and care as text or JSON, or the findings as CSV.

    With `everything` the text lists what passed and what is recalled, instead of counting it.
    """
    if format == "json":
        print(as_json(as_dict(checked, replacements, care)), end="")
    elif format == "csv":
        print(as_csv([f.as_dict() for f in checked.findings], COLUMNS), end="")
    else:
        print(report(checked, replacements, everything, care), end="")


def as_dict(checked: Checked, replacements: list, care: Sequence[Care] = ()) -> dict:
    """The JSON contract of `check`."""
    return {"unit": checked.unit.name, "findings": [f.as_dict() for f in checked.findings],
            "nodes": nodes(checked), "replacements": [r.as_dict() for r in replacements],
            "operating": [q.as_dict() for q in checked.point.quantities], "not_judged": rows(checked),
            "care": [c.as_dict() for c in care],
            "recalled": [{"subject": f.subject, "quantity": f.quantity, "value": f.value, "unit": f.unit,
                          "source_id": f.source_id} for f in checked.recalled]}


def nodes(checked: Checked) -> list[dict]:
    """Volts of each node: at today's mains, ripple peak to peak; at high mains at switch-on, without load and at half.

    Null where not known.
    """
    return [{"id": n.id, "volts": _round(state.today_v(n.id)), "ripple_v": _round(state.ripple_v(n.id)),
             "cold_start_v": _round(state.cold_start_v(n.id)), "no_load_v": _round(state.no_load_v(n.id)),
             "half_load_v": _round(state.half_load_v(n.id)),
             "half_load_ripple_v": _round(state.half_load_ripple_v(n.id)),
             "estimated": state.estimated} for state in checked.point.states for n in state.nodes]


def _round(value: float | None) -> float | None:
    return None if value is None else float(f"{value:.5g}")
