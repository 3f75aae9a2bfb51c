"""A capacitor's marking cut into pieces: amounts with their units, words, classes, tolerance.

The pieces are put together in `capacitor`.  Letter-as-point and three-figure codes, tolerance letters:
IEC 60062.  MF, MFD, MMF and the like are American trade habit; a German cm is the electrostatic unit.
"""

from __future__ import annotations

import re
from decimal import Decimal
from functools import cache
from typing import NamedTuple

from pipeline.notation.lexing import NUMBER, blank_thousands, dotted_thousands, has_cyrillic, number, shown, undotted
from pipeline.notation.reading import Refusal
from pipeline.records import OpenRecord, field

BANDS_PCT = {
    "F": (-1.0, 1.0), "G": (-2.0, 2.0), "J": (-5.0, 5.0), "K": (-10.0, 10.0), "M": (-20.0, 20.0),
    "Z": (-20.0, 80.0),
}  # fmt: skip
"""Tolerance letters of IEC 60062 in percent (Z recalled); B, C, D are picofarads below 10 pF."""

_POWERS = {"p": -6, "n": -3, "µ": 0, "u": 0}
_CM_UF = Decimal("1.11265e-6")  # one electrostatic centimetre: 1/(c squared), c in cm/s, is 1.11265 pF
_UNITS = (  # full match, longest meaning first
    (
        r"(?:µµ|uu|mm|m\.m\.)f(?:d|ds|ds?\.)?|p(?:fd?|uff?s?)?|pico\s?farads?|micro\s?micro\s?farads?",
        Decimal("1e-6"),
    ),
    (r"k\s?(?:pf|mmfd?)|n(?:fd?)?|nano\s?farads?", Decimal("1e-3")),
    (r"(?:µ|u|m)f(?:d|ds)?|mkf?|µ|u|micro\s?farads?|mikes?|mics?", Decimal(1)),
    (r"cm", _CM_UF),
)
_VOLTS = (
    r"(?:v(?:olts?)?\s*(?:-(?=\s|$|/)|~|=|dcw|dc|acw|ac|wkg|rms|eff|w|p|s)?|wv\s?dc|wvdc|dcwv|wvac|acwv|wv|"
    r"pv|sv|dcv|acv|dc|ac|working|wkg|surge|peak|pk|test)"
)
_WORD_MEANING = {
    "electrolytic": "electrolytic elko elco lytic electrolyt electrolytics tantalum polarised polarized tant lytics "
    "chimique électrochimique électrolytique elettrolitico elettrolitici siebelko ladeelko niedervoltelko эк кэ "
    "кэг этo эго "
    "к50 к52 к53 эм эгц полярный",
    "film": "paper film polyester mylar polypropylene poly mkp mkt mks mkc kp foil oil pio wax waxed plastic "
    "petp metallised metallized mp papier papierkondensator folie papel carta papír papírový papiers papierwickel roll "
    "rollkondensator becher becherkondensator metallpapier mkv mkl mkh fkp fks tropydur wima мбм бм бмт мбго мбгч "
    "мбгп мбгц мбгт кбг кбги кбгм кбгмн кбгмп кбгцп к40 к40у к42 к42у к71 к72 к73 к75 к76 к78 псо по пм пов мпо мпг "
    "фт бг бумажный",
    "small": "mica silver ceramic disc disk polystyrene styroflex glass glimmer keramik keramisch ks céramique mica "
    "argenté ceramico слюда слюдяной кд кдк кдс кт ктк ктп км км5 клс ксо ксот сгм сго ксг к10 к15 к31 к22 ткм",
    "range": "trimmer padder variable",
    "nonpolar": "np bp bipolar nonpolar nonpolarised nonpolarized unpolarised unpolarized reversible bip "
    "unipolar неполярный нп ungepolt non-polarisé tonfrequenz",
    "run": "run motor betriebskondensator motorkondensator",
    "start": "start starting anlauf anlaufkondensator démarrage",
    "ac": "ac ~ rms eff vac wechsel wechselspannung alternatif",
    "dc": "dc vdc working wkg = wv wvdc dcwv",
    "surge": "surge peak pk spitze spitzenspannung pointe",
    "test": "test tested prüf prüfspannung essai prova isolé isol tst",
    "plus": "pos positive",
    "": "can tubular axial radial dual triple quad twin common neg negative insulated capacitor capacitors condenser "
    "cap type rated marked the of each ea per total tol tolerance section sections made in usa fp filter block "
    "audio volts volt max min v vw tubulars resin dipped and mains suppression suppressor class service serv lavoro "
    "arbeit arbeitsspannung nenn nennspannung kondensator condensateur condensatore kondenzátor wert конденсатор мк "
    "ном раб de à",
}
_SHORT_MAKERS = ("ge", "ti", "jj")
_OTHER_UNITS = r"Ω|ω|ohm|henr|watt|amp|meg|kilo|µ|^(?:mh|ma|hz|khz|mhz|db|kv|mv)$"
_MEANING = {word: meaning for meaning, words in _WORD_MEANING.items() for word in words.split()}


class Item(NamedTuple):
    """One amount.

    Exact value in µF (unit 'c'), volts (unit 'v') or as written (unit ''); flavour of volts ('', dc, ac,
    surge, test); the joint before it; µF per written unit, where a unit was written.
    """

    value: Decimal
    unit: str = ""
    flavour: str = ""
    before: str = ""
    scale: Decimal | None = None


class Pieces(OpenRecord):
    """Everything found in one marking."""

    items: list[Item] = field(default_factory=list)
    words: set[str] = field(default_factory=set)
    classes: list[str] = field(default_factory=list)
    band: tuple[float, float] | None = None
    left_out: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    pending: str = ""
    ahead: str = ""


_SOVIET = (
    r"(?i)(?<![^\W_])(?=[^\W\d_]*[а-яё])([а-яё]{1,5}[0-9]{0,2}[а-яё]?)(?:-[0-9а-яё]{1,4})*(?![^\W_])"
)
"""A Soviet capacitor type such as К50-7 or КБГ-МН: only the family before the hyphen says what it is."""


_MARKS = "()[]:.'\"#°±■▲●◆○△□▪•*_"
"""What is passed over."""


class _Unknown(Exception):
    """A character that has no place in a capacitor's marking."""


class _Token(NamedTuple):
    """A pattern, its handler's name, and what of it must stand in the marking, in lower case, for it to be tried."""

    name: str
    pattern: str
    needs: tuple[str, ...] = ()


_compiled = cache(re.compile)  # each when it is first tried: most markings need few of them


@cache
def _tokens(loose: bool) -> tuple[_Token, ...]:
    """Return the patterns in the order they are tried; `loose` also reads capital N, P and U as units."""
    point = "pnµuPNUM" if loose else "pnµu"
    amount = f"({NUMBER})"
    units = "|".join(f"(?:{pattern})" for pattern, _ in _UNITS)
    one = "(?<![A-Za-z0-9])"
    end = "(?![A-Za-zµ0-9])"
    found = (
        _Token("blank", r"\s+"),
        _Token("band", rf"([+-]\s?{NUMBER})\s*%?\s*[/,]?\s*([+-]\s?{NUMBER})\s*%", ("%",)),
        _Token("percent", rf"(?:±|\+/?-)?\s*{amount}\s*(?:%|pct\b|percent\b)", ("%", "pct", "percent")),
        _Token("heat", r"[-+]?[0-9]+\s*(?:/|\.{2,3}|to)?\s*(?:[-+]?[0-9]+\s*)?°\s*[CcFf]?|"
                       r"(?:55|70|85|105|125)\s*[Cc]\b", ("°", "55", "70", "85", "105", "125")),
        _Token("class", rf"(?i:{one}(?:class\s*)?(x[123]|y[1234])(?:\s*/?\s*(x[123]|y[1234]))?{end})",
               ("x1", "x2", "x3", "y1", "y2", "y3", "y4")),
        _Token("class", rf"(?i:{one}class\s*([xy])(){end})", ("class",)),
        _Token("class", rf"(?<=[A-Za-z0-9µ] )(Y|X(?!\s*[0-9.,]))(){end}", ("x", "y")),
        _Token("point", rf"{one}([0-9]{{1,3}})([{point}m])([0-9]{{1,2}})([BCDFGJKMZ])?{end}"),
        _Token("point", rf"{one}(0?)([{point}])([0-9]{{1,3}})([BCDFGJKMZ])?{end}"),
        _Token("mega", rf"{one}([1-9][0-9]?)\s?M{end}(?=.*[0-9]\s*[Vv])", ("m",)),
        _Token("kilo", rf"{one}([0-9]{{1,3}}(?:[.,][0-9]+)?)\s?k([0-9]?){end}(?=.*[0-9]\s*[Vv])", ("k",)),
        _Token("code", rf"(?i:([1-9][0-9][0-9])((?<=[89])[BCD]|[FGJKMZ]){end})"),
        _Token("farads", rf"(?i:{amount}\s*({units}){end})"),
        _Token("volts", rf"(?i:{amount}\s*(k?){_VOLTS}{end})"),
        _Token("number", rf"((?>{NUMBER}))(?:(?![A-Za-zµ])|(?=(?i:x|by|at)[0-9.,\s])|(?=[JKMZ]{end}))"),
        _Token("joint", r"(?i:(?:by|at)(?![A-Za-z])|x(?![A-Za-zµ])|[*@+\-/,;&|])",
               ("by", "at", "x", "*", "@", "+", "-", "/", ",", ";", "&", "|")),
        _Token("word", r"(?i:к[0-9]{2}у?|кт?м[0-9])(?![^\W_])", ("к",)),
        _Token("chunk", rf"(?!(?i:(?:wv|v|vdc|dc|ac|wvdc)[0-9])){one}[A-Za-z]+-?[0-9][A-Za-z0-9/.-]*"),
        _Token("word", r"[^\W\d_]+(?:-[^\W\d_]+)*|~|="),
        _Token("mark", f"[{re.escape(_MARKS)}]", tuple(_MARKS)),
    )
    return tuple(token for token in found if loose or token.name not in ("kilo", "mega"))


def cut(text: str, *, loose: bool) -> Pieces | None:
    """Cut a marking into pieces; None where it cannot be a capacitor's.

    Raises
    ------
    Refusal
        A number that is none.
    """
    text = undotted(text)
    _refuse_below_zero(text)
    if has_cyrillic(text):
        text = re.sub(_SOVIET, lambda m: f"{m[1]} ", text)
    text, joined = blank_thousands(text)
    text = re.sub(r"(?i)\b(?:NP[0O]|C0G|COG|X[57]R|Z5U|Y5[VP])\b", " ceramic ", text)
    if "/" in text:
        text = re.sub(r"(?i)(?<![A-Za-z])([NB])/P\b", r"\1P", text)
    text = re.sub(r"(?i)\bnon[\s-]+polar", "nonpolar", text)
    text = re.sub(r"(?i)(?<=[0-9 ])((?:µµ|uu|mm|µ|u|m|n|p)fd?)(?=[0-9])", r"\1 ", text)
    text = re.sub(r"^[Cc] (?=[0-9.,])", "", text)
    text = re.sub(r"\(\+\)|\+\s?ve\b", " positive ", text).replace("(-)", " ")
    pieces, at, lower = Pieces(notes=[joined] if joined else []), 0, text.lower()
    tokens = [t for t in _tokens(loose) if not t.needs or any(mark in lower for mark in t.needs)]
    try:
        while at < len(text):
            at = _step(text, at, pieces, tokens)
    except _Unknown:
        return None
    if pieces.pending == "+":
        pieces.words.add("plus")
    return pieces


def _refuse_below_zero(text: str) -> None:
    """Refuse a minus sign before an amount; the ends of a tolerance and degrees may have one."""
    for match in re.finditer(rf"(?:^|[\s(=@])-\s?{NUMBER}", text):
        after = text[match.end() :]
        dash = re.match(r"\s-\s", match[0]) and match.start() > 0
        if dash or re.match(r"\s*(?:%|/?\s*\+|\.\.|to\b|°)", after):
            continue
        raise Refusal("a minus sign stands before a number: no capacitor has less than nothing; write it without")


def _step(text: str, at: int, pieces: Pieces, tokens: list[_Token]) -> int:
    for token in tokens:
        match = _compiled(token.pattern).match(text, at)
        if match and match.end() > at:
            _HANDLERS[token.name](match, pieces)
            return match.end()
    raise _Unknown


def _blank(match: re.Match[str], pieces: Pieces) -> None:
    pieces.pending = pieces.pending or " "


def _joint(match: re.Match[str], pieces: Pieces) -> None:
    mark = match[0].lower()
    mark = "x" if mark in ("by", "*", "x") else "@" if mark == "at" else mark
    if not pieces.items and mark in "+x@":
        if mark != "+":
            raise _Unknown
        pieces.words.add("plus")
        return
    pieces.pending = pieces.pending.strip() + mark


def _add(pieces: Pieces, item: Item) -> None:
    pieces.items.append(item._replace(before=pieces.pending))
    pieces.pending = ""


def _amount(text: str, pieces: Pieces) -> Decimal:
    value, note = number(text)
    if note:
        pieces.notes.append(note)
    return value


def _percent(match: re.Match[str], pieces: Pieces) -> None:
    size = float(number(match[1])[0])
    pieces.band = (-size, size)


def _band(match: re.Match[str], pieces: Pieces) -> None:
    ends = sorted(float(part.replace(" ", "").replace(",", ".")) for part in match.groups())
    pieces.band = (ends[0], ends[1])


def _class(match: re.Match[str], pieces: Pieces) -> None:
    pieces.classes += [each.upper() for each in match.groups() if each]


def _point(match: re.Match[str], pieces: Pieces) -> None:
    whole, letter, rest, tolerance = match.groups()
    value = Decimal(f"{whole or 0}.{rest}")
    if letter == "M":
        pieces.notes.append(f"{match[0]} is read as {shown(value)} µF: M stands for microfarad on parts of that habit")
        letter = "µ"
    if letter == "m":
        pieces.notes.append(f"{match[0]} is read by IEC 60062, where m is milli: {shown(value * 1000)} µF")
    power = 3 if letter == "m" else _POWERS[letter.lower()]
    if power < 0:
        pieces.words.add("small unit")
    _add(pieces, Item(value.scaleb(power), "c"))
    _letter(tolerance, pieces)


def _kilo(match: re.Match[str], pieces: Pieces) -> None:
    """Read ``10k 400 V`` as 10 nF: k for a thousand pF, as on Czech and Dutch parts."""
    value = Decimal(match[1].replace(",", ".")) + (Decimal(match[2]) / 10 if match[2] else 0)
    pieces.notes.append(f"{match[0]} is read as {shown(value)} nF: k stands for a thousand pF beside volts")
    pieces.words.add("small unit")
    _add(pieces, Item(value.scaleb(-3), "c"))


def _mega(match: re.Match[str], pieces: Pieces) -> None:
    """Read ``50M 450 V`` as 50 µF: M for a million pF, as on Czech parts."""
    pieces.notes.append(f"{match[0]} is read as {match[1]} µF: M stands for microfarad beside volts")
    _add(pieces, Item(Decimal(match[1]), "c", scale=Decimal(1)))


def _code(match: re.Match[str], pieces: Pieces) -> None:
    figures, letter = match[1], match[2].upper()
    if figures[2] in "07":
        raise Refusal(
            f"{match[0]} can be {figures} pF or, as a three-figure code, {_code_pf(figures)} pF: write the value"
        )
    _add(pieces, Item(code_uf(figures), "c"))
    pieces.words.add("code")
    _letter(letter, pieces)


def _code_pf(figures: str) -> Decimal:
    """Return the pF of a three-figure code; last figure 8 means x 0.01, 9 means x 0.1."""
    power = {8: -2, 9: -1}.get(int(figures[2]), int(figures[2]))
    return Decimal(figures[:2]).scaleb(power)


def code_uf(figures: str) -> Decimal:
    """Return the µF of a three-figure pF code such as 104."""
    return _code_pf(figures).scaleb(-6)


def _letter(letter: str | None, pieces: Pieces) -> None:
    if letter in BANDS_PCT and pieces.band is None:
        pieces.band = BANDS_PCT[letter]


def _farads(match: re.Match[str], pieces: Pieces) -> None:
    unit = match[2].lower()
    scale = next(factor for pattern, factor in _UNITS if re.fullmatch(pattern, unit))
    if scale == Decimal("1e-6") and dotted_thousands(match[1]):
        value = Decimal(match[1].replace(".", ""))
        pieces.notes.append(f"the point in {match[1]} is taken as a thousands mark")
    else:
        value = _amount(match[1], pieces)
    if scale < 1:
        pieces.words.add("small unit")
    if match[2] == "mF":
        pieces.notes.append("mF is taken as microfarad, as on old parts")
    _add(pieces, Item(value * scale, "c", scale=scale))


def _volts(match: re.Match[str], pieces: Pieces) -> None:
    value = _amount(match[1], pieces) * (1000 if match[2] else 1)
    text = match[0][len(match[1]) :].lower().replace(" ", "")
    flavour = pieces.ahead or _flavour(text)
    pieces.ahead = ""
    _add(pieces, Item(value, "v", flavour))


def _flavour(unit: str) -> str:
    if any(mark in unit for mark in ("ac", "~", "rms", "eff")):
        return "ac"
    if unit in ("vp", "vs", "pv", "sv") or any(mark in unit for mark in ("surge", "peak", "pk")):
        return "surge"
    if "test" in unit:
        return "test"
    return "dc" if any(mark in unit for mark in ("dc", "w", "=", "-")) else ""


def _number(match: re.Match[str], pieces: Pieces) -> None:
    unit, flavour = ("v", pieces.ahead) if "volts ahead" in pieces.words else ("", "")
    if unit:
        pieces.ahead = ""
        pieces.words.discard("volts ahead")
    _add(pieces, Item(_amount(match[1], pieces), unit, flavour))


def _word(match: re.Match[str], pieces: Pieces) -> None:
    word = match[0].lower()
    meaning = _MEANING.get(word)
    if meaning is None and len(word) == 1:
        last = pieces.items[-1] if pieces.items else None
        if match[0] not in "JKMZ" or last is None or not (last.unit == "c" or last.value < 1):
            raise _Unknown
        pieces.band = pieces.band or BANDS_PCT[match[0]]
    elif meaning is None:
        in_place_of_unit = bool(pieces.items) and not pieces.items[-1].unit
        too_short = len(word) < 3 and word not in _SHORT_MAKERS
        if in_place_of_unit or too_short or re.search(_OTHER_UNITS, word):
            raise _Unknown
        pieces.left_out.append(match[0])
    elif meaning in ("ac", "dc", "surge", "test"):
        _qualify(meaning, pieces)
        if pieces.ahead and word not in ("ac", "dc", "~", "="):
            pieces.words.add("volts ahead")
    elif meaning:
        pieces.words.add(meaning)


def _qualify(meaning: str, pieces: Pieces) -> None:
    """Let a word such as AC or surge belong to the volts before it, else to the next ones."""
    last = pieces.items[-1] if pieces.items else None
    if last and last.unit == "v" and last.flavour in ("", "dc"):
        pieces.items[-1] = last._replace(flavour=meaning)
    elif last is None or last.unit != "v":
        pieces.ahead = meaning
        pieces.words.add(f"{meaning} ahead")


def _chunk(match: re.Match[str], pieces: Pieces) -> None:
    if not re.fullmatch(r"[A-Z]{2,}-?[0-9]{3,}[A-Z0-9-]*", match[0]) or re.search(
        "VDC|VAC|WV|MF|UF", match[0]
    ):
        raise _Unknown
    pieces.left_out.append(match[0])


def _nothing(match: re.Match[str], pieces: Pieces) -> None:
    return None


_HANDLERS = {
    "blank": _blank, "joint": _joint, "percent": _percent, "band": _band, "heat": _nothing, "class": _class,
    "point": _point, "kilo": _kilo, "mega": _mega, "code": _code, "farads": _farads, "volts": _volts,
    "number": _number, "word": _word, "mark": _nothing, "chunk": _chunk,
}  # fmt: skip
