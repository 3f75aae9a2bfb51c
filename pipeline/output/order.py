"""An order in each format: for a person, for a distributor's upload, for a program."""

from pathlib import Path
from typing import Any

from pipeline.bench.order import Blocked, Line, Order
from pipeline.bench.parts import COUNTERS, Leave, shown_value
from pipeline.output.page import CAUTIONS, clean, paint, wrapped
from pipeline.output.quantities import named, value
from pipeline.output.safe import defused, markdown, plain
from pipeline.output.tables import as_csv, as_json
from pipeline.output.workbook import Sheet, workbook

FORMATS = ("text", "csv", "json", "md", "xlsx")
DRAFT = "DRAFT - NOT CHECKED"
CHECKED = "checked"
COLUMNS = ("quantity", "description", "value", "rating", "refs", "kind", "tolerance", "temperature", "safety_class",
           "leads", "largest_size", "spares", "status", "verdict", "evidence", "replaces", "fitting", "why", "counter",
           "cautions")
ON_PAPER = {"quantity": 8, "description": 36, "refs": 14, "replaces": 18, "fitting": 26, "why": 46, "verdict": 9,
            "evidence": 10, "status": 11}
"""Columns of the workbook that fit a page's width, and their widths in characters; the others stand right of them."""
MOST_REFS = 40
"""Refs that a line of the text names; of an aid that serves more parts the count is given."""
BESIDE = tuple(name for name in COLUMNS if name not in ON_PAPER and name != "cautions")
_BESIDE_WIDTH = 14


def render(order: Order, format: str, draft: bool = False) -> bytes:
    """The order as bytes in one of `FORMATS`; as a draft every row and page says so."""
    if format == "xlsx":
        return workbook(_sheets(order, draft))
    made = {"text": _text, "csv": _csv, "json": _json, "md": _markdown}[format](order, draft)
    return made.encode()


def format_of(path: Path | None, format: str | None) -> str:
    """The format asked for, else the one the file's ending names, else text; raises ValueError for an odd ending."""
    ending = path.suffix.lower().lstrip(".") if path else ""
    if format is None:
        known = {"txt": "text", "": "text", "markdown": "md"} | {f: f for f in FORMATS}
        if ending not in known:
            raise ValueError(f"{path}: no format known for the ending .{ending}: end it in .csv, .xlsx, .md, .json or "
                             ".txt, or give --format")
        return known[ending]
    return format


def refusal(order: Order) -> str:
    """Why the order is refused: each thing that must be settled first."""
    heads = [wrapped(f"Order refused: {len(order.blocked)} still to settle. Mend these, or give --draft for a list "
                     "marked as not checked.")]
    return "\n".join(heads + [_blocked(b, len(order.units) > 1) for b in order.blocked])


def _blocked(found: Blocked, several: bool) -> str:
    place = f"{found.unit}:{found.subject}" if several else found.subject
    named = place == found.subject and found.why.startswith(f"{place} ")
    line = wrapped(f"{'' if named else f'{clean(place)}: '}{clean(found.why)}", 8, f"  {found.verdict}: ")
    return line + ("\n" + wrapped("→ " + clean(found.do), 10, " " * 8) if found.do else "")


def description(line: Line) -> str:
    """The part in plain terms for whoever fills the order."""
    part = line.part
    if part.verdict == "unknown":
        return "not known: see why"
    words = [part.buy, f"±{part.tolerance_pct:g} %" if part.tolerance_pct else "",
             f"{part.temperature_c:g} °C" if part.temperature_c else "", part.standard, part.lead_style or "",
             f"ripple current {part.ripple_a:g} A rms or more" if part.ripple_a and part.ripple_a >= 0.02 else ""]
    return ", ".join(w for w in words if w)


def rating(line: Line) -> str:
    """Volts, watts or type as one cell."""
    part = line.part
    words = [f"{part.volts:g} V {'AC' if part.is_ac else 'DC'}" if part.volts else "",
             f"{part.watts:g} W" if part.watts else "", part.type or "", part.speed or ""]
    return ", ".join(w for w in words if w)


def row(line: Line, draft: bool) -> dict[str, Any]:
    """One line under the names of `COLUMNS`."""
    part = line.part
    return {
        "quantity": line.quantity, "description": description(line), "value": shown_value(part.value, part.unit),
        "rating": rating(line), "refs": ", ".join(line.refs), "kind": part.kind or "",
        "tolerance": f"{part.tolerance_pct:g} %" if part.tolerance_pct else "",
        "temperature": f"{part.temperature_c:g} °C" if part.temperature_c else "",
        "safety_class": part.safety_class or "", "leads": part.lead_style or "", "largest_size": part.size or "",
        "spares": line.spares, "status": DRAFT if draft else CHECKED, "verdict": line.verdict,
        "evidence": line.evidence, "replaces": ", ".join(line.markings), "fitting": "; ".join(line.notes),
        "why": " ".join(line.why), "counter": part.counter, "cautions": CAUTIONS}


def _csv(order: Order, draft: bool) -> str:
    rows = [{k: defused(v) if isinstance(v, str) else v for k, v in row(line, draft).items()} for line in order.lines]
    return as_csv(rows, list(COLUMNS))


def _json(order: Order, draft: bool) -> str:
    return as_json({
        "units": order.units, "status": DRAFT if draft else CHECKED, "draft": draft, "depth": order.depth,
        "spares_pct": order.spares_pct, "cautions": CAUTIONS,
        "lines": [{k: v for k, v in row(line, draft).items() if k != "cautions"} | {
            "refs": list(line.refs), "why": list(line.why), "fitting": list(line.notes), "type": line.part.type,
            "uf": line.part.value if line.part.unit == "µF" else None,
            "ohms": line.part.value if line.part.unit == "ohm" else None, "volts": line.part.volts,
            "watts": line.part.watts, "ripple_a": line.part.ripple_a, "standard": line.part.standard}
            for line in order.lines],
        "leave": [{**x.as_dict(), "ref": ref} for ref, x in order.leave],
        "take_out": [{**x.as_dict(), "ref": ref} for ref, x in order.out], "notes": order.notes,
        "blocked": [b._asdict() for b in order.blocked]})


def refused_json(order: Order) -> str:
    """What a program gets where the order is refused: no lines, and what stands in the way."""
    return as_json({"units": order.units, "status": "refused", "cautions": CAUTIONS,
                    "blocked": [b._asdict() for b in order.blocked]})


def _head(order: Order, draft: bool) -> str:
    units = ", ".join(plain(u) for u in order.units)
    spares = f", {order.spares_pct:g} % spares" if order.spares_pct else ""
    return f"{DRAFT + ': ' if draft else ''}Order for {units}, depth {order.depth}{spares}"


def _text(order: Order, draft: bool) -> str:
    """What to buy first, a line or two a part; the reasons after it, then what to leave alone."""
    mark = f"{DRAFT}  " if draft else ""
    blocks = [paint(wrapped(_head(order, draft)), "head"), wrapped(CAUTIONS)]
    blocks += _counters(order, mark) or ["  nothing to order"]
    if draft and order.blocked:
        blocks.append(paint("STILL TO SETTLE", "stop") + "\n" + "\n".join(
            _blocked(b, len(order.units) > 1) for b in order.blocked))
    whys = [wrapped(plain(x), 4, "  - ") for line in order.lines for x in (*line.notes, *line.why)]
    if whys:
        blocks.append("\n".join([paint("FITTING, AND WHY", "head"), *dict.fromkeys(whys)]))
    blocks += [b for b in (_told("TAKE OUT FOR GOOD", order.out), _told("LEAVE ALONE", order.leave),
                           "\n".join(wrapped(n, 2) for n in order.notes),
                           _recalled_text(order)) if b]
    if draft:
        blocks.append(DRAFT)
    return "\n\n".join(blocks) + "\n"


def _counters(order: Order, mark: str) -> list[str]:
    """The lines by the counter they are asked for at; the counters are named where there are several."""
    found = []
    several = len({line.part.counter for line in order.lines}) > 1
    for counter in COUNTERS:
        lines = [_line_text(line, mark) for line in order.lines if line.part.counter == counter]
        if lines:
            found.append("\n".join([*([paint(counter.upper(), "head")] if several else []), *lines]))
    return found


def _line_text(line: Line, mark: str) -> str:
    verdict = "" if line.verdict == "pass" else f" [{line.verdict}]"
    spare = f", {line.spares} spare" if line.spares else ""
    size = f", {line.part.size}" if line.part.size else ""
    return wrapped(f"{clean(description(line))}{size}, for {_few(line.refs)}{spare}{verdict}", 7,
                   f"  {mark}{line.quantity:>3}  ")


def _few(refs: tuple[str, ...]) -> str:
    """The refs a line is for; of an aid for many parts the first of them."""
    more = len(refs) - MOST_REFS
    return ", ".join(refs[:MOST_REFS]) + (f" and {more} more" if more > 0 else "")


def _told(heading: str, parts: list[tuple[str, Leave]]) -> str:
    if not parts:
        return ""
    lines = [wrapped(clean(plain(f"{x.marking}: {x.why}")).rstrip(".") + ".", 8, f"  {ref}  ") for ref, x in parts]
    return "\n".join([paint(heading, "head"), *lines])


def _recalled_text(order: Order) -> str:
    names = dict.fromkeys(f"{named(f)}: {value(f)}" for f in order.recalled)
    if not names:
        return ""
    return "\n".join([paint("RECALLED", "head"), wrapped("Figures from memory this rests on: look them up.", 2, "  "),
                      *(wrapped(n, 4, "  ") for n in names)])


def _markdown(order: Order, draft: bool) -> str:
    head = ["quantity", "part", "refs", "verdict", "evidence", "why"]
    out = [f"# {markdown(_head(order, draft))}", "", f"**{markdown(CAUTIONS)}**", "",
           "| " + " | ".join((["status"] if draft else []) + head) + " |",
           "|" + " --- |" * (len(head) + draft)]
    for line in order.lines:
        cells = [str(line.quantity), description(line), ", ".join(line.refs), line.verdict, line.evidence,
                 " ".join((*line.notes, *line.why))]
        out.append("| " + " | ".join(([f"**{DRAFT}**"] if draft else []) + [markdown(c) for c in cells]) + " |")
    if draft and order.blocked:
        out += ["", "## Still to settle", ""] + [
            f"- {b.verdict}: {markdown(b.unit)}, {markdown(b.subject)}: {markdown(b.why)}" for b in order.blocked]
    if order.out:
        out += ["", "## Take out for good", ""] + [f"- {markdown(ref)} ({markdown(x.marking)}): {markdown(x.why)}"
                                                   for ref, x in order.out]
    if order.leave:
        out += ["", "## Leave alone", ""] + [f"- {markdown(ref)} ({markdown(x.marking)}): {markdown(x.why)}"
                                             for ref, x in order.leave]
    out += [""] + [markdown(note) for note in order.notes] + (["", f"**{DRAFT}**"] if draft else [])
    return "\n".join(out).rstrip("\n") + "\n"


def _sheets(order: Order, draft: bool) -> list[Sheet]:
    """The order for people: what is printed first, the other columns right of it, the cautions once on each sheet."""
    names = [*ON_PAPER, *BESIDE]
    rows: list[list] = [[name.replace("_", " ") for name in names]]
    rows += [[found[name] for name in names] for found in (row(line, draft) for line in order.lines)]
    head = _head(order, draft)
    about: list[list] = [[head], []]
    about += [[f"{b.verdict}: {b.unit}, {b.subject}: {b.why}"] for b in order.blocked]
    about += [["Take out for good"]] if order.out else []
    about += [[f"{ref}: {x.marking}: {x.why}"] for ref, x in order.out]
    about += [["Leave alone"]] if order.leave else []
    about += [[f"{ref}: {x.marking}: {x.why}"] for ref, x in order.leave] + [[note] for note in order.notes]
    about += [[DRAFT]] if draft else []
    short = "These chassis hold lethal voltage, also after the plug is out: discharge and measure before you touch."
    widths: list[float] = [*ON_PAPER.values(), *(_BESIDE_WIDTH for _ in BESIDE)]
    return [Sheet("Order", rows, widths, 1, head, short, CAUTIONS, len(ON_PAPER)),
            Sheet("Read first", about, [110, 10], 1, head, short, CAUTIONS)]
