"""What `swap` prints."""

from pipeline.amounts import amount
from pipeline.bench.swap import Swap
from pipeline.output.page import CAUTIONS, paint, table, wrapped
from pipeline.output.tables import as_csv, as_json
from pipeline.records import asdict

_TONES = {"fits": "pass", "fits with conditions": "caution", "cannot tell": "unknown", "does not fit": "stop"}
STATUS = {"fits": 0, "fits with conditions": 0, "cannot tell": 3, "does not fit": 1}


def print_swap(found: Swap, format: str) -> None:
    """One candidate, with everything that would change."""
    if format == "json":
        print(as_json(found.as_dict()), end="")
        return
    if format == "csv":
        print(as_csv([asdict(c) for c in found.changes], ["what", "before", "after", "unit"]), end="")
        return
    print(paint(wrapped(f"{found.ref}: {found.called} for {found.before}: {found.verdict}"), _TONES[found.verdict]))
    for reason in found.reasons:
        print(wrapped(reason, 4, "  - "))
    if found.changes:
        rows: list[tuple[str, ...]] = [("", found.before, found.type)]
        rows += [(c.what, *(amount(x, c.unit, c.what, 3) for x in (c.before, c.after))) for c in found.changes]
        print("\n" + table(rows))
    print("\n" + wrapped(CAUTIONS))


def print_ranked(found: list[Swap], ref: str, format: str) -> None:
    """Every candidate in one table, the best first."""
    if format == "json":
        print(as_json([s.as_dict() for s in found]), end="")
        return
    rows = [{"type": s.type, "verdict": s.verdict, "reasons": s.reasons} for s in found]
    if format == "csv":
        print(as_csv(rows, ["type", "verdict", "reasons"]), end="")
        return
    if not found:
        print(f"the catalogue knows no candidate for {ref}")
        return
    print(table([(s.type, s.verdict, s.reasons[0] if s.reasons else "") for s in found]))
    print("\n" + wrapped(CAUTIONS))
