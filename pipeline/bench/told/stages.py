"""A stage, as a person says it: `V3 V4 plate B1 through T2, screen B2, cathode R7, grid R5 R6, push-pull`."""

import re
from collections.abc import Iterator

from pipeline.bench.told.fact import NODE_LIKE, REF_LIKE, Fact, Known
from pipeline.bench.told.words import not_understood
from pipeline.notation.lexing import clean
from pipeline.unit import LETTERS, Place
from pipeline.unit.places import NAMED_SECTIONS

STAGE_SAID = "V3 plate B1 through T2, screen B2, cathode R7, grid R6"
ELECTRODES = {"plate": "plate", "anode": "plate", "screen": "screen", "g2": "screen", "cathode": "cathode",
              "kathode": "cathode", "grid": "grid", "g1": "grid", "bias": "grid"}
_TOKENS = re.compile(
    r"(?i)(?P<volts>[+-]?\s?\d+(?:[.,]\d+)?\s?V(?:olts?)?(?![\w]))|(?P<share>\d+(?:[.,]\d+)?\s?(?:%|per\s?cent))|"
    r"(?P<ohms>\d+(?:[.,]\d+)?\s?k?\s?(?:ohms?|Ω)(?![\w]))|(?P<amps>\d+(?:[.,]\d+)?\s?m?A(?![\w]))|(?P<word>[^\s,;:=]+)")
_JOINING = ("to", "at", "on", "from", "through", "thru", "via", "by", "the", "and", "of", "is", "stage", "resistor",
            "leak", "load", "its", "with", "a", "each", "feeds", "&", "transformer", "return", "fed", "bypassed", "tap",
            "connected", "service", "strapped", "as", "bias", "fixed", "goes", "shared", "half", "section", "node",
            "directly")
_CHASSIS = ("chassis", "ground", "earth", "gnd", "earthed", "grounded")
SERVICES = (r"push[\s-]pull", r"single[\s-]ended", r"in parallel|parallel(?:ed)?", r"phase (?:inverter|splitter)",
            r"class (?:AB[12]?|A|B|C)", r"grid[\s-]leak bias(?:ed)?|grid[\s-]current bias(?:ed)?", r"avc|agc|on avc",
            r"cathode follower", r"oscillator", r"head amplifier", r"driver", r"output", r"mixer")


def leading_tubes(text: str, known: Known, *, new: bool = False) -> tuple[list[Place], str]:
    """The tubes, or sections of tubes, that a text begins with, and what follows; `new` ones need not be listed yet."""
    words = clean(text).split() if text.strip() else []
    found: list[Place] = []
    while words:
        word = words[0].strip(",;:&")
        if word.lower() in ("and", "") and found:
            words.pop(0)
            continue
        size, place = _tube(words, known, new)
        if place is None:
            break
        found.append(place)
        del words[:size]
    return found, " ".join(words)


def _tube(words: list[str], known: Known, new: bool) -> tuple[int, Place | None]:
    """(words it takes, the tube) that the words begin with."""
    for size in (2, 1):
        text = " ".join(words[:size]).strip(",;:")
        place = known.place(text, "part") if len(words) >= size else None
        if place is not None and known.parts[place.ref].kind in ("tube", None) \
                and known.part(words[0].strip(",;:")) is not None \
                or (place is not None and place.section is not None and known.parts[place.ref].kind == "tube"):
            return size, place
    first = words[0].strip(",;:")
    if new and re.fullmatch(r"(?i)V\d{1,3}[A-D]?", first) and known.names.find(first) is None:
        letter = first[-1].upper() if first[-1].isalpha() else None
        named = words[1].strip(",;:").lower() if len(words) > 1 else ""
        if letter is None and named in NAMED_SECTIONS:
            return 2, Place(first.upper(), named)
        return 1, Place(first[:-1].upper(), letter) if letter else Place(first.upper())
    return 0, None


def is_stage(tubes: list[Place], rest: str, known: Known) -> bool:
    """Whether what follows the tubes speaks of what their electrodes hang at, and is no reading and no marking."""
    tokens = list(_tokens(rest))
    begins = (*ELECTRODES, "without", "service")
    if tubes and (match := re.match(rf"(?i)(?:{'|'.join(SERVICES)})(?![\w-])[\s,]*", rest)):
        rest = rest[match.end():]
        tokens = list(_tokens(rest))
    if not tubes or not tokens or tokens[0][0] != "word" or tokens[0][1].lower() not in begins:
        return False
    if tokens[0][1].lower() == "service":
        return len(tokens) > 1
    after = next((t for t in tokens[1:] if t[0] != "word" or t[1].lower() not in _JOINING), None)
    if after is None or after[0] != "word":
        return False
    word = after[1]
    return word.lower() in (*_CHASSIS, *ELECTRODES) or known.place(word) is not None or bool(
        REF_LIKE.fullmatch(word) or NODE_LIKE.fullmatch(word))


def is_reading(rest: str) -> bool:
    """Whether a text is volts of an electrode: `plate 248 V`."""
    tokens = list(_tokens(rest))
    return len(tokens) > 1 and tokens[0][0] == "word" and tokens[0][1].lower() in ELECTRODES and tokens[1][0] == "volts"


def _tokens(text: str) -> Iterator[tuple[str, str]]:
    return ((match.lastgroup or "", match[0].strip()) for match in _TOKENS.finditer(text))


def stage(text: str, known: Known) -> Fact:
    """`V1A plate B3 through R4, cathode R5`; raises ValueError for what is not understood."""
    tubes, rest = leading_tubes(text, known, new=True)
    if not tubes:
        raise ValueError(f"which tubes? say for example {STAGE_SAID}")
    tubes = [_whole(place, known) for place in tubes]
    fact = Fact("stage", " ".join(map(str, tubes)), tubes=tuple(map(str, tubes)))
    services = []
    for pattern in SERVICES:
        if match := re.search(rf"(?i)(?<![\w-])(?:{pattern})(?![\w-])", rest):
            services.append(" ".join(match[0].split()))
            rest = f"{rest[:match.start()]} {rest[match.end():]}"
    if services:
        fact.values["service"] = " ".join(services)
    clauses = _Clauses(fact, known)
    clauses.read(list(_tokens(rest)))
    twins = [p for p in tubes if p.section is None and known.parts.get(p.ref) is not None
             and known.parts[p.ref].sections[:1] == ("A",)]
    fact.told += [f"both halves of {p.ref} are taken for this stage; for one say {p.ref}A or {p.ref}B" for p in twins]
    if not fact.values and not fact.without:
        raise not_understood(rest.split() or [fact.name], STAGE_SAID)
    return fact


def _whole(place: Place, known: Known) -> Place:
    """A tube with unlike sections by its power section, where none is said."""
    part = known.parts.get(place.ref)
    unlike = place.section is None and part is not None and part.sections and part.sections[0] not in LETTERS
    return Place(place.ref, part.power_section) if unlike and part is not None else place


class _Clauses:
    """What a line says of one electrode after the other."""

    def __init__(self, fact: Fact, known: Known):
        self.fact, self.known = fact, known
        self.at, self.ref = "", ""
        self.fresh = False

    def read(self, tokens: list[tuple[str, str]]) -> None:
        for i, (kind, text) in enumerate(tokens):
            after = tokens[i + 1] if i + 1 < len(tokens) else ("", "")
            low = text.lower()
            if kind == "word" and low == "without":
                self.at = "without"
            elif self.at == "without" and kind == "word":
                self.fact.without += (self._ref(text),)
            elif kind == "word" and low in ELECTRODES and not (low == "bias" and self.at == "grid"):
                self._electrode(ELECTRODES[low], after)
            elif kind == "word":
                self._word(text, low, tokens[i - 1][1].lower() if i else "")
            else:
                self._amount(kind, text)

    def _electrode(self, name: str, after: tuple[str, str]) -> None:
        """The next electrode; `screen to plate` and a grid on another tube's plate are no clause of the plate."""
        ends = after[0] in ("", "share") or after[1].lower() in (*ELECTRODES, *SERVICES)
        if name == "plate" and self.at == "screen" and self.fresh and (ends or after[0] == "share"):
            self.fact.values["screen"] = "plate"
            self.fresh = False
        elif name == "plate" and self.at == "grid" and self.fact.values.get("grid_through"):
            self.fact.values["grid"] = f"{self.fact.values.pop('grid_through')[-1]} plate"
        else:
            self.at, self.fresh = name, True

    def _word(self, text: str, low: str, before: str) -> None:
        if low in ("triode", "ultralinear", "ul") and self.at:
            if low == "triode":
                self.fact.values["screen"] = "plate"
            self.at, self.fresh = "screen", False
        elif low in _CHASSIS:
            self._chassis()
        elif low in ("signal", "full"):
            self.at = "signal"
        elif self.known.names.find(text, "node"):
            self._node(self.known.names.find(text, "node") or text)
        elif self.known.place(text, "part") is not None:
            self._part(self._ref(text))
        elif low in _JOINING:
            return
        elif NODE_LIKE.fullmatch(text) and self.at:
            self._node(text.upper())
        elif REF_LIKE.fullmatch(text) and self.at:
            self._part(text.upper())
        else:
            raise not_understood([text], STAGE_SAID)

    def _chassis(self) -> None:
        if self.at == "cathode":
            self.fact.values |= {"cathode_to": None}
            if "cathode_through" not in self.fact.values:
                self.fact.values["cathode_through"] = None
        elif self.at == "grid":
            self.fact.values["grid"] = None
        else:
            raise ValueError("a plate or screen on chassis has no volts: name the node that feeds it")

    def _node(self, name: str) -> None:
        if not self.at or self.at == "signal":
            raise not_understood([name], STAGE_SAID)
        self.fact.values["cathode_to" if self.at == "cathode" else self.at] = name
        self.fresh = False

    def _part(self, ref: str) -> None:
        if not self.at or self.at == "signal":
            raise not_understood([ref], STAGE_SAID)
        key = f"{self.at}_through"
        self.fact.values[key] = [*(self.fact.values.get(key) or []), ref]
        self.ref, self.fresh = ref, False

    def _amount(self, kind: str, text: str) -> None:
        number = float(re.sub(r"[^\d.,+-]", "", text).replace(",", "."))
        if kind == "volts" and self.at == "grid":
            self.fact.values["grid"] = number
        elif kind == "share":
            self.fact.values["screen"] = f"plate {number:g} %"
        elif kind == "ohms" and self.ref:
            self.fact.measured[self.ref] = text
        elif kind == "amps" and self.at == "signal":
            self.fact.values["signal_a"] = number * (1e-3 if "m" in text.lower().replace("amp", "") else 1.0)
        else:
            raise not_understood([text], STAGE_SAID)

    def _ref(self, text: str) -> str:
        place = self.known.place(text, "part")
        return str(place) if place is not None else text.upper()
