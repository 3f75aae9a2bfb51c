"""One fact about the unit, as a line tells it, and what is known while lines are read."""

import re
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from pipeline.catalogue import Catalogue
from pipeline.notation.names import normal
from pipeline.notation.read import read
from pipeline.unit import Part, Place
from pipeline.unit.places import Names, folded
from pipeline.unit.toml_editing import EditedToml

REF_LIKE = re.compile(r"(?i)[A-Z]{1,5}\d{1,4}[A-H]?|[ABCH][+-]")
"""A ref or id that nothing bears yet."""
NODE_LIKE = re.compile(r"(?i)(?:[ABCGH]\d{1,2}|[ABCGH][+-]\d?|HT\d?|\+\d)")


@dataclass
class Fact:
    """The keys that a line sets in one table of unit.toml; a key that is None is taken out.

    `table` is `top` (the mains and the name), winding, string, supply, node or stage; `name` its id, a stage's tubes.
    `first` is the first node of a supply; `supply` the one that a node belongs to. `measured` are readings of parts
    said by the way, `told` what else is to be said of the line.
    """

    table: str
    name: str = ""
    values: dict[str, Any] = field(default_factory=dict)
    tubes: tuple[str, ...] = ()
    first: str = ""
    supply: str = ""
    without: tuple[str, ...] = ()
    measured: dict[str, str] = field(default_factory=dict)
    told: list[str] = field(default_factory=list)


class Known(NamedTuple):
    """What a line may speak of: every name of the unit, its parts, and its file as it stands."""

    names: Names
    parts: dict[str, Part]
    toml: EditedToml
    catalogue: Catalogue

    def supply(self, text: str) -> str | None:
        """The supply that a text names."""
        return next((id_ for id_, _ in self.toml.supplies() if folded(id_) == folded(text)), None)

    def place(self, text: str, *kinds: str) -> Place | None:
        """The part, or section of one, or the node, winding or string that a text names."""
        found = self.names.place(text, *kinds)
        return found if isinstance(found, Place) else None

    def part(self, text: str, *kinds: str) -> Part | None:
        """The part that a text names, if it is one of these kinds or its kind is not known."""
        ref = self.names.find(text, "part")
        part = self.parts.get(ref or "")
        return part if part is not None and (not kinds or part.kind in (*kinds, None)) else None

    def of_type(self, text: str) -> str | None:
        """The ref of the only tube or diode of a type; None where the text is no type.

        Raises ValueError where no part, or more than one, is of it.
        """
        catalogue = self.catalogue
        found = read(text, names=catalogue.names, diodes=catalogue.diodes, ref="V1", kind=None)
        if found.kind not in ("tube", "diode") or not (found.type or normal(text)):
            return None
        refs = [p.ref for p in self.parts.values() if p.kind == found.kind
                and (p.reading.type == found.type or normal(p.marking) == normal(text))]
        if len(refs) != 1:
            raise ValueError(f"{len(refs)} parts are {text}: say which, by its ref ({', '.join(refs)})" if refs else
                             f"no part is a {text}: list it first, such as V5 {text}, or give its ref")
        return refs[0]
