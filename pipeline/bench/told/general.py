"""The mains, the name, heater windings and strings, as a person says them."""

from typing import Any

from pipeline.bench.told.fact import REF_LIKE, Fact, Known
from pipeline.bench.told.words import Said, not_understood

_PLATE = r"nameplate|name plate|design|made for|built for|type plate|rating plate|plate says"
_HIGH = r"at most|highest|high|maximum|max|up to"
_LOW = r"at least|lowest|low|minimum|min|down to"
_HEATED = ("heater", "heaters", "tubes", "valves", "rectifier", "winding", "filament", "filaments", "string", "series",
           "volts", "lamps", "output", "id", "mains", "today", "outlet")


def mains(text: str, known: Known) -> Fact:
    """`mains 121 V 60 Hz, nameplate 117 V`; amperes and watts have no place there, and are said to be left out."""
    said = Said(text)
    found = {"design_mains_v": said.amount("V", _PLATE, bare=True), "mains_high_v": said.amount("V", _HIGH, bare=True),
             "mains_low_v": said.amount("V", _LOW, bare=True), "mains_hz": said.only("Hz")}
    told = []
    if left := said.take(r"[\d.,]+\s*(?:m?a|amps?|w|watts?|va)"):
        told.append(f"left out: {left[0].strip()}; the fuse is a part, its amperes stand in its marking")
    found["mains_v"] = said.only("V")
    words = [word for word in said.words() if word.lower() not in _HEATED]
    values = {key: value for key, value in found.items() if value is not None}
    if words or not values:
        raise not_understood(words or ["mains"], "mains 121 V 60 Hz, nameplate 117 V")
    return Fact("top", "mains", dict(values), told=told)


def name(text: str, known: Known) -> Fact:
    """`name Kitchen radio`."""
    if not text.strip() or len(text) > 200:
        raise ValueError("say what to call it, in at most 200 letters: name Kitchen radio")
    return Fact("top", "name", {"name": " ".join(text.split())})


def winding(text: str, known: Known) -> Fact:
    """`winding H1 6.3 V 3 A`; an id alone with amps corrects it."""
    said = Said(text)
    values: dict[str, Any] = {"volts": said.only("V"), "amps": said.only("A")}
    words = [word for word in said.words() if word.lower() not in _HEATED]
    id_ = _id(words, "winding", known)
    if len(words) > 1 or (values["volts"] is None and values["amps"] is None):
        raise not_understood(words[1:] or words, f"winding {id_} 6.3 V 3 A")
    return Fact("winding", id_, {key: value for key, value in values.items() if value is not None})


def string(text: str, known: Known) -> Fact:
    """`string S1 150 mA, order V5 V4 V1 V2 V3, dropper R20`, from the line side on."""
    said = Said(text)
    amps = said.only("A")
    dropper = said.take(r"(?:line )?(?:dropper|ballast)\s+(?:is\s+)?(?P<ref>\S+?)(?=[,;\s])")
    needless = (*_HEATED, "order", "tube", "then", "line", "chassis")
    words = [word for word in said.words() if word.lower() not in needless]
    id_ = _id(words, "string", known)
    order = []
    for word in words[1:]:
        part = known.part(word, "tube", "lamp", "ballast")
        if part is None and not REF_LIKE.fullmatch(word):
            raise not_understood([word], f"string {id_} 150 mA, order V5 V4 V1 V2 V3, dropper R20")
        order.append(part.ref if part else word.upper())
    values: dict[str, Any] = {"amps": amps, "order": order or None, "dropper": None}
    if dropper:
        part = known.part(dropper["ref"])
        values["dropper"] = part.ref if part else dropper["ref"].upper()
    values = {key: value for key, value in values.items() if value is not None}
    if not values:
        raise not_understood([id_], f"string {id_} 150 mA")
    return Fact("string", id_, values)


def _id(words: list[str], kind: str, known: Known) -> str:
    """The id that the words begin with; raises ValueError where there is none, or it is another's."""
    if not words:
        only = known.names.of_kind(kind)
        if len(only) != 1:
            raise ValueError(f"which {kind}? say its id first, such as {kind} {'H1' if kind == 'winding' else 'S1'}")
        return only[0]
    found = known.names.find(words[0])
    if found is not None and known.names.kinds[found] != kind:
        raise ValueError(f"{found} is already a {known.names.kinds[found]}: give the {kind} another id")
    if found is None and not (REF_LIKE.fullmatch(words[0]) or words[0].isalpha()):
        raise not_understood(words[:1], f"{kind} {'H1 6.3 V 3 A' if kind == 'winding' else 'S1 150 mA'}")
    return found or words[0]
