"""Which table of unit.toml a line speaks of, if any: a line about a part is none of these."""

import re

from pipeline.bench.told import general, stages, supplies
from pipeline.bench.told.fact import NODE_LIKE, Fact, Known

_BEGINS = (
    (r"(?:the )?name[: ]", general.name, False), (r"(?:the )?mains\b", general.mains, False),
    (r"outlet\b|nameplate\b|name plate\b", general.mains, True),
    (r"(?:heater |filament )?winding\b", general.winding, False),
    (r"(?:series |heater )?string\b", general.string, False),
    (r"(?:battery|vibrator)\b(?=.*\d\s*v)", supplies.supply, True),
    (r"(?:bias|screen|heater) supply\b", supplies.supply, True), (r"(?:power )?supply\b", supplies.supply, False),
    (r"node\b", supplies.node, False), (r"stage\b", stages.stage, False))
"""(how a line begins, who reads it, whether its first words are part of what is read)."""
_BY_KIND = {"winding": general.winding, "string": general.string, "node": supplies.node}


def read_fact(line: str, known: Known) -> Fact | None:
    """What a line says of the unit itself; None where it speaks of a part.

    Raises ValueError, with an example, where it begins as such a line and cannot be read to its end.
    """
    text = " ".join(line.split())
    for pattern, reader, whole in _BEGINS:
        if match := re.match(rf"(?i){pattern}[\s:]*", text):
            rest = text if whole else text[match.end():]
            return reader(re.sub(r"(?i)^(bias|screen|heater) supply", r"\1", rest), known)
    first, _, rest = text.partition(" ")
    first = first.rstrip(":,")
    name = known.names.find(first)
    kind = known.names.kinds[name] if name else ""
    if rest and kind in _BY_KIND:
        return _BY_KIND[kind](text, known)
    if rest and not kind and known.supply(first):
        return supplies.supply(text, known)
    if kind != "part" and (_joins(text, known) or (not kind and _follows(first, rest, known))):
        return supplies.node(text, known)
    tubes, after = stages.leading_tubes(text, known)
    several = len(tubes) > 1 and bool(after)  # no marking begins with the ref of another tube
    return stages.stage(text, known) if several or stages.is_stage(tubes, after, known) else None


def _joins(text: str, known: Known) -> bool:
    """Whether it says `B1 to B2`, of which one is a node or looks like one."""
    match = re.match(r"(\S+) to (\S+)", text)
    ends = [match[1], match[2].strip(",;")] if match else []
    return bool(ends) and all(known.part(e) is None and (known.names.find(e, "node") or NODE_LIKE.fullmatch(e))
                              for e in ends)


def _follows(first: str, rest: str, known: Known) -> bool:
    """Whether it says `B2 from B1`, of which the second is a node."""
    match = re.match(r"(?:fed )?from (\S+)", rest)
    source = match[1].strip(",;") if match else ""
    return bool(source) and (known.names.find(source, "node") is not None or bool(
        NODE_LIKE.fullmatch(source) and NODE_LIKE.fullmatch(first) and known.part(source) is None))
