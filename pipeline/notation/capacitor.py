"""Capacitors: 16 by 450, 40-40-20 mfd 450-450-25 V, .05 400V, 4n7, 0.1 µF X2 275 VAC."""

from __future__ import annotations

from decimal import Decimal

from pipeline.notation.capacitor_habits import USUAL_V, bare_uf, is_polarised, pair
from pipeline.notation.capacitor_tokens import Item, Pieces, cut
from pipeline.notation.colours import colour_words, read_dots
from pipeline.notation.lexing import shown
from pipeline.notation.reading import Reading, Refusal, Section

_LIST = ("+", "-", "/", ",", "&", ";", "|")
_HARD = (" ", "@", "x")
_MOST_SECTIONS = 8
_LOW_VOLT_RATIO = 10
_WIDEST_RANGE = Decimal("1.5")


def read_capacitor(text: str, *, expected: bool = False, role: str | None = None) -> Reading | None:
    """Read a capacitor's marking.

    Parameters
    ----------
    text : str
        A marking as `lexing.clean` leaves it.
    expected : bool
        True where ref or role says that it is a capacitor.
    role : str, optional
        Its role, which helps to tell µF from pF where no unit is marked; it never decides polarity.

    Returns
    -------
    Reading or None
        None where nothing in it looks like a capacitor.

    Raises
    ------
    Refusal
        It looks like a capacitor, but a number in it can mean two things, or nothing.
    """
    words = colour_words(text)
    if words is not None:
        return read_dots(words) if expected else None
    pieces = cut(text, loose=expected)
    if pieces is None or not _worth(pieces, expected):
        return None
    return _assemble(pieces, expected, role)


def _worth(pieces: Pieces, expected: bool) -> bool:
    """Tell whether the pieces are a capacitor's at all: an amount, and no stray words without a unit."""
    if not pieces.items or len(pieces.items) > 24:
        return False
    units = {item.unit for item in pieces.items}
    part_number = any(any(char.isdigit() for char in word) for word in pieces.left_out)
    sections = expected and "v" in units and len(pieces.items) > 1  # FP-378 20-20-20 450 V
    if pieces.left_out and "c" not in units and ((part_number and not sections) or "v" not in units):
        return False
    bare_volts = "c" not in units and len(pieces.items) == 1 and "v" in units
    return expected or not bare_volts


def _assemble(pieces: Pieces, expected: bool, role: str | None) -> Reading:
    items = _repeated([item for item in pieces.items if item.flavour != "test"])
    surge = [float(item.value) for item in items if item.flavour == "surge"]
    working = _middle_of_range([item for item in items if item.flavour != "surge"], pieces)
    if not working:
        raise Refusal("volts, but no capacitance")
    if not any(item.unit == "c" for item in working):
        working = _split(working, pieces, role, expected)
    working, surge = _higher_is_surge(_spread(working), surge)
    ac, working = _alternating(working, pieces)
    sections, implied_surge = _sections(working, pieces)
    if surge and ac is None and sections[0].volts_dc is None:
        pieces.notes.append("only a surge or peak voltage is marked: the working volts are lower")
    _within_reason(sections, ac)
    polarised = is_polarised(sections, ac, pieces)
    return Reading(
        kind="capacitor",
        sections=tuple(sections),
        volts_ac=ac,
        volts_surge=_above_working(max(surge, default=implied_surge), sections),
        polarised=polarised,
        safety_class=_safety_class(pieces),
        tolerance_band_pct=pieces.band,
        notes=(*pieces.notes, *([f"left out: {' '.join(pieces.left_out)}"] if pieces.left_out else [])),
        bare=not expected and _is_bare(pieces),
    )


def _above_working(surge: float | None, sections: list[Section]) -> float | None:
    """Drop a surge voltage that another section's working volts exceed: it is not that of the whole can."""
    working = max((section.volts_dc or 0.0 for section in sections), default=0.0)
    return surge if surge and surge >= working else None


def _is_bare(pieces: Pieces) -> bool:
    """Tell whether nothing but figures speaks for a capacitor."""
    if "code" in pieces.words:
        return not any(item.unit == "v" for item in pieces.items)
    if any(item.unit for item in pieces.items) or pieces.words:
        return False
    return not any(mark in item.before for item in pieces.items for mark in "x@+")


def _repeated(items: list[Item]) -> list[Item]:
    """Write out ``2 x 16 µF``, ``3x.1 400V`` and ``16 µF x 2`` section by section."""
    if len(items) < 2:
        return items
    first, second = items[0], items[1]
    if _count(first) and second.before == "x":
        more = second.unit == "c" or (len(items) > 2 and second.unit == "")
        if second.unit == "" and len(items) == 2 and second.value < 100:
            raise Refusal(
                f"{shown(first.value)} x {shown(second.value)} can be {shown(first.value)} sections of "
                f"{shown(second.value)} µF, or {shown(first.value)} µF {shown(second.value)} V: write the units"
            )
        if more:
            again = second._replace(before="+")
            return [second._replace(before="")] + [again] * (int(first.value) - 1) + items[2:]
    if (
        first.unit == "c"
        and _count(second)
        and second.before == "x"
        and all(i.unit == "v" for i in items[2:])
    ):
        return [first] + [first._replace(before="+")] * (int(second.value) - 1) + items[2:]
    return items


def _middle_of_range(items: list[Item], pieces: Pieces) -> list[Item]:
    """Read ``88-108 mfd`` on a motor-start capacitor, or ``3-30 pF`` on a trimmer, as a range."""
    if (
        not pieces.words & {"start", "range"}
        or len(items) < 2
        or items[1].before != "-"
        or not items[1].scale
    ):
        return items
    low, high = items[0].value * items[1].scale, items[1].value
    if items[0].unit or not 0 < low < high:
        return items
    if "start" in pieces.words and high > _WIDEST_RANGE * low:
        raise Refusal("too wide for the range of one motor-start capacitor: write one value")
    scale = items[1].scale
    span = f"{shown(low / scale)} to {shown(high / scale)}"
    if "range" in pieces.words:
        pieces.notes.append(f"a trimmer, {span}: the highest value is given")
        return [items[1]._replace(before=""), *items[2:]]
    middle = (low + high) / 2
    pieces.notes.append(f"a range, {span}: the middle is given")
    pieces.band = pieces.band or (
        round(float(low / middle - 1) * 100, 1),
        round(float(high / middle - 1) * 100, 1),
    )
    return [items[1]._replace(value=middle, before=""), *items[2:]]


def _count(item: Item) -> bool:
    return item.unit == "" and item.value in (2, 3, 4)


def _spread(items: list[Item]) -> list[Item]:
    """Give every number without a unit the one its neighbours imply: ``40-40-20 mfd 450-450-25``."""
    items = list(items)
    for i, item in enumerate(items):
        last = items[i - 1] if i else None
        if item.unit or last is None:
            continue
        after_value = item.before in (*_HARD, "/") or (item.before in ("-", ",") and item.value >= 50)
        in_volts = item.before in _LIST and not _leads_to_values(items, i)
        if (last.unit == "c" and after_value) or (last.unit == "v" and in_volts):
            if item.value not in USUAL_V:
                raise Refusal(f"{shown(item.value)} is no usual voltage: write its unit")
            items[i] = item._replace(unit="v")
    for i in range(len(items) - 2, -1, -1):
        item, following = items[i], items[i + 1]
        alike = following.before == "x" and following.scale and item.value * following.scale == following.value
        if item.unit or (following.before not in _LIST and not alike):  # 32 x 32 mfd: two sections
            continue
        if following.unit == "c" and following.scale:
            items[i] = item._replace(unit="c", value=item.value * following.scale, scale=following.scale)
        elif following.unit == "v":
            items[i] = item._replace(unit="v", flavour=following.flavour)
    loose = next((item for item in items if not item.unit), None)
    if loose:
        raise Refusal(f"{shown(loose.value)} in it: not clear whether µF or volts; write the units")
    return _no_fraction(items)


def _leads_to_values(items: list[Item], at: int) -> bool:
    """Tell whether the list that starts here ends with a unit of capacitance."""
    for item in items[at:]:
        if item.unit:
            return item.unit == "c"
    return False


def _no_fraction(items: list[Item]) -> list[Item]:
    """Refuse ``1/2 mfd``: half a microfarad, or sections of one and two."""
    for first, second in zip(items, items[1:], strict=False):
        if first.unit == second.unit == "c" and second.before == "/" and first.before != "/":
            top, bottom = (item.value / (item.scale or 1) for item in (first, second))
            if top in (1, 3) and bottom in (2, 4, 8):
                both = f"{shown(top)}/{shown(bottom)}"
                raise Refusal(f"{both} can be a fraction or two sections: write it as a decimal")
    return items


def _split(items: list[Item], pieces: Pieces, role: str | None, expected: bool) -> list[Item]:
    """Part numbers without a unit of capacitance into values and volts, and settle µF or pF."""
    marked = next((i for i, item in enumerate(items) if item.unit == "v"), None)
    if marked == 0 or any(not item.unit for item in items[marked or 0 :]) and marked is not None:
        raise Refusal("volts, but no capacitance with a unit before them")
    last = len(items) - 1 if marked is None else marked
    at = _border(items, last, marked is None)
    values = [item.value for item in items[:at]]
    volts = [item._replace(unit="v", flavour=item.flavour) for item in items[at:]]
    if at < len(items):
        _settled(items[at].before, values, volts, marked is None)
    uf = bare_uf(values, [float(item.value) for item in volts], pieces, role, expected)
    return [item._replace(unit="c", value=value) for item, value in zip(items[:at], uf, strict=True)] + volts


def _border(items: list[Item], last: int, nothing_marked: bool) -> int:
    """Return the index of the first volts; past the end where there are only values."""
    count = len(items)
    if nothing_marked and (all(item.before in ("+", "&") for item in items[1:]) or _only_sections(items)):
        return count
    if any(not item.before and not item.unit for item in items[1:]):
        raise Refusal("something not understood stands between its numbers")
    fits = [k for k in range(1, last + 1) if _even(items, k, count)]
    if not fits:
        raise Refusal("not clear which numbers are µF and which volts: write the units")
    hard = [k for k in fits if items[k].before in _HARD]
    if len(hard) == 1:
        return hard[0]
    distinct = [k for k in fits if all(items[j].before != items[k].before for j in range(1, count) if j != k)]
    rising = [k for k in fits if min(i.value for i in items[k:]) > max(i.value for i in items[:k])]
    for choice in (distinct, rising, fits):
        if len(choice) == 1:
            return choice[0]
    raise Refusal("not clear which numbers are µF and which volts: write the units")


def _even(items: list[Item], k: int, count: int) -> bool:
    """Tell whether values before k and volts from k on match in number, each list joined one way."""
    if items[k].before in ("+", "&") or count - k not in (1, k):
        return False
    return len({i.before for i in items[1:k]}) <= 1 and len({i.before for i in items[k + 1 :]}) <= 1


def _only_sections(items: list[Item]) -> bool:
    joints = {item.before for item in items[1:]}
    return len(items) >= 3 and len(joints) == 1 and joints <= {"-", "/"} and max(i.value for i in items) < 100


def _settled(joint: str, values: list[Decimal], volts: list[Item], nothing_marked: bool) -> None:
    """Refuse number pairs that could as well be two sections (20-20, 25/50) or a tube (6X4)."""
    odd = [item.value for item in volts if nothing_marked and item.value not in USUAL_V]
    if odd:
        raise Refusal(f"as a tube it is not known, and {shown(odd[0])} is no usual voltage: write the units")
    soft = joint in ("-", "/", " ", ",") and not _far_above(joint, values, volts[0].value)
    if nothing_marked and soft and values[0] >= 1 and volts[0].value < 100:
        raise Refusal(
            f"{shown(values[0])} and {shown(volts[0].value)}: not clear whether two sections, or µF and volts; "
            "write the units"
        )
    if nothing_marked and soft and len(values) == 1 and values[0] >= volts[0].value:
        raise Refusal(f"{shown(values[0])} and {shown(volts[0].value)}: write the units")
    same_kind = len(values) > 1 and joint in ("-", "/") and max(values) >= 100 and len(volts) == 1
    if same_kind and volts[0].value <= max(values):
        raise Refusal("not clear which numbers are µF and which volts: write the units")


def _far_above(joint: str, values: list[Decimal], volts: Decimal) -> bool:
    """Tell whether ``1000/6`` stands there: with ten times the second number the first is no section beside it."""
    return joint == "/" and len(values) == 1 and values[0] >= _LOW_VOLT_RATIO * volts


def _higher_is_surge(items: list[Item], surge: list[float]) -> tuple[list[Item], list[float]]:
    """Swap where the volts labelled surge are lower than the others: the word stood between the two."""
    volts = [item for item in items if item.unit == "v"]
    if len(surge) == 1 and len(volts) == 1 and surge[0] < volts[0].value:
        high = float(volts[0].value)
        low = Decimal(str(surge[0]))
        return [i._replace(value=low, flavour="") if i.unit == "v" else i for i in items], [high]
    if surge and volts and max(surge) < max(item.value for item in volts):
        raise Refusal("the surge volts are below the working volts: write which is which")
    return items, surge


def _alternating(items: list[Item], pieces: Pieces) -> tuple[float | None, list[Item]]:
    """Take out the AC volts; volts not marked DC beside a class X or Y or the words motor run are AC."""
    by_kind = bool(pieces.classes) or bool(pieces.words & {"run", "start"})
    if (by_kind or "ac ahead" in pieces.words) and any(i.unit == "v" and not i.flavour for i in items):
        items = [i._replace(flavour="ac") if i.unit == "v" and not i.flavour else i for i in items]
        pieces.notes += ["the volts are taken as AC, from its kind"] if by_kind else []
    volts = sorted({float(item.value) for item in items if item.flavour == "ac"})
    if len(volts) > 1:
        pieces.notes.append(f"several AC voltages marked: the lowest, {shown(volts[0])} V, is taken")
    return (volts[0] if volts else None), [item for item in items if item.flavour != "ac"]


def _sections(items: list[Item], pieces: Pieces) -> tuple[list[Section], float | None]:
    """Pair each run of values with its run of volts."""
    runs: list[tuple[str, list[Item]]] = []
    for item in items:
        if runs and runs[-1][0] == item.unit:
            runs[-1][1].append(item)
        else:
            runs.append((item.unit, [item]))
    order = "".join(unit for unit, _ in runs)
    if order in ("c", "cv", "vc"):
        order = "cv"
    elif len(order) % 2 or order[:2] * (len(order) // 2) != order or not order:
        raise Refusal("no capacitance in it" if "c" not in order else "values and volts do not go in pairs")
    if runs[0][0] == "v":
        runs = [each for i in range(0, len(runs), 2) for each in (runs[i + 1], runs[i])]
    sections: list[Section] = []
    surge: float | None = None
    for i in range(0, len(runs), 2):
        volts = runs[i + 1][1] if i + 1 < len(runs) else []
        found, high = pair([v.value for v in runs[i][1]], [float(v.value) for v in volts], pieces)
        sections += found
        surge = max(filter(None, (surge, high)), default=None)
    return sections, surge


def _within_reason(sections: list[Section], ac: float | None) -> None:
    if len(sections) > _MOST_SECTIONS:
        raise Refusal(f"{len(sections)} sections: no can has so many")
    for uf, volts in sections:
        if not 1e-8 <= uf <= 200_000:
            raise Refusal(f"{shown(uf)} µF is no capacitor of a tube set: is a unit wrong?")
        if volts is not None and not 1 <= volts <= 50_000:
            raise Refusal(f"{shown(volts)} V is no rating of a capacitor: is a unit wrong?")
    if ac is not None and not 1 <= ac <= 20_000:
        raise Refusal(f"{shown(ac)} V AC is no rating of a capacitor: is a unit wrong?")


def _safety_class(pieces: Pieces) -> str | None:
    """Return the class; of two (X1 Y2) the Y one, which may serve as X as well."""
    classes = list(dict.fromkeys(pieces.classes))
    if not classes:
        return None
    best = max(classes)
    if len(classes) > 1:
        pieces.notes.append(f"marked {' and '.join(classes)}: {best} is given, the stricter use")
    return best
