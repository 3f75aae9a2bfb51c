"""Parts named and rated: every marking read, every known type's ratings attached."""

from collections.abc import Mapping

from pipeline.catalogue import Catalogue
from pipeline.notation.cans import asked_about
from pipeline.notation.read import read
from pipeline.notation.reading import Reading
from pipeline.records import replace
from pipeline.unit.model import Part, Unit


def identify(unit: Unit, catalogue: Catalogue) -> Unit:
    """The unit with every marking read and every known type's ratings attached."""
    return replace(unit, parts=identified(unit.parts, catalogue))


def identified(parts: Mapping[str, Part], catalogue: Catalogue) -> dict[str, Part]:
    """The parts with every marking read and every known type's ratings attached."""
    read_as = asked_about({ref: read_part(part, catalogue) for ref, part in parts.items()})
    ratings = catalogue.ratings(reading.type for reading in read_as.values() if reading.type)
    return {ref: replace(part, reading=read_as[ref], ratings=ratings.get(read_as[ref].type or ""))
            for ref, part in parts.items()}


def read_part(part: Part, catalogue: Catalogue) -> Reading:
    """What a part's marking means, its kind, ref and role deciding where it could be two things."""
    return read(part.marking, names=catalogue.names, lamps=catalogue.lamps, diodes=catalogue.diodes,
                ballasts=catalogue.ballasts,
                ref=part.ref, role=part.role, kind=part.kind_given)
