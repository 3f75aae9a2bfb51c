"""Roles of parts: what a part does in the unit, spelling forgiven."""

from __future__ import annotations

import re
from functools import cache, lru_cache
from typing import NamedTuple


class _Role(NamedTuple):
    """A role, the kinds of part that can have it, likeliest first, and other words for it."""

    name: str
    kinds: str
    words: str = ""


_TABLE = (
    _Role("reservoir", "capacitor", "first filter;input filter;filter input;first filter capacitor;reservoir filter;"
          "filter reservoir;first electrolytic;input capacitor;ladeelko;main filter;ladekondensator"),
    _Role("smoothing", "capacitor", "second filter;smoothing filter;filter smoothing;filter output;output filter;"
          "decoupling;"
          "hum filter;third filter;fourth filter;ripple filter;siebelko;smoother;b+ decoupling;ht decoupling;plate "
          "decoupling;"
          "anode decoupling;filtrage"),
    _Role("bias filter", "capacitor", "bias;bias supply;bias smoothing;grid bias filter;bias bypass"),
    _Role("cathode bypass", "capacitor", "cathode capacitor;cathode decoupling;bypass cathode;katode bypass"),
    _Role("screen bypass", "capacitor", "screen decoupling;screen grid bypass;screen capacitor;g2 bypass"),
    _Role("coupling", "capacitor", "coupler;interstage;dc blocking;blocking;coupling capacitor;grid coupling;"
          "interstage coupling"),
    _Role("tone", "capacitor resistor potentiometer switch", "tone control;tone capacitor;treble;bass;tone correction;"
          "treble control;bass control;tone switch;presence;plate tone"),
    _Role("rf", "capacitor resistor choke coil tube", "radio frequency;rf bypass;if;mica rf;if bypass;rf filter;"
          "diode filter;rf decoupling;detector bypass;antenna coupling;aerial coupling"),
    _Role("line to line", "capacitor", "across line;across the line;line line;x capacitor;mains to mains;across mains;"
          "across the mains;line to neutral;live to neutral;line filter;mains filter"),
    _Role("line to chassis", "capacitor", "line to ground;line to earth;mains to chassis;mains to earth;line chassis;"
          "y capacitor;line to case;mains to ground;neutral to chassis;live to chassis;death capacitor;ground "
          "switch capacitor"),
    _Role("motor run", "capacitor", "run;motor phase;phase shift;motor capacitor run;run capacitor;phasing"),
    _Role("motor start", "capacitor", "start;start capacitor;starting"),
    _Role("crossover", "capacitor choke resistor", "cross over;speaker crossover;crossover capacitor;x over;tweeter"),
    _Role("snubber", "capacitor resistor", "spark suppressor;contact suppressor;arc suppressor;switch suppressor;"
          "spark quench;"
          "click suppressor"),
    _Role("avc", "capacitor resistor", "a v c;agc;a g c;avc filter;avc bypass;agc filter;avc decoupling;automatic "
          "volume control;"
          "avc line;regelspannung"),
    _Role("buffer", "capacitor resistor", "vibrator buffer;buffer capacitor;timing capacitor"),
    _Role("antenna isolation", "capacitor resistor", "aerial isolation;antenna isolating;aerial isolating;"
          "antenna blocking;aerial blocking;antenna isolator;aerial isolator;ground isolation;earth isolation"),
    _Role("feedback", "resistor capacitor", "negative feedback;nfb;feedback network;feedback resistor;feedback "
          "capacitor"),
    _Role("neutralizing", "capacitor", "neutralising;neutralization;neutralisation;neutrodyne"),
    _Role("oscillator", "capacitor resistor coil", "osc;local oscillator;oscillator grid;bias oscillator;oscillator "
          "coupling"),
    _Role("tuning", "tuning capacitor trimmer capacitor coil", "tuned circuit;alignment;padder;padding;trimmer;"
          "trimming"),
    _Role("lamp", "lamp", "pilot;pilot lamp;dial lamp;pilot light;dial light;panel lamp;bulb;meter lamp"),
    _Role("cathode", "resistor potentiometer", "cathode resistor;cathode bias;self bias;katode;kathode"),
    _Role("plate load", "resistor", "anode load;plate;anode;plate resistor;anode resistor;load"),
    _Role("screen", "resistor", "screen resistor;screen grid;screen dropper;screen dropping;g2;screen feed"),
    _Role("grid leak", "resistor", "grid;grid resistor;grid return;leak"),
    _Role("dropping", "resistor", "dropping resistor;b+ dropping;ht dropping;b+ dropper;ht dropper;filter resistor;"
          "smoothing resistor;decoupling resistor"),
    _Role("bleeder", "resistor", "bleed;bleeder resistor;discharge;voltage divider;divider"),
    _Role("dropper", "resistor ballast cord", "line dropper;heater dropper;mains dropper;ballast;line ballast;"
          "heater dropping;"
          "dropper resistor;barretter;line cord resistor"),
    _Role("balance", "resistor", "balancing;balance resistor;balancing resistor;equalizing;equalising;voltage "
          "sharing;sharing"),
    _Role("grid stopper", "resistor", "stopper;grid stop;parasitic;parasitic suppressor;grid suppressor;anti "
          "parasitic"),
    _Role("screen stopper", "resistor", "screen stop;screen suppressor;g2 stopper"),
    _Role("plate stopper", "resistor", "anode stopper;plate suppressor;anode suppressor"),
    _Role("hum", "potentiometer resistor capacitor coil", "hum balance;humdinger;hum pot;hum control;hum adjust;hum "
          "bucking;"
          "heater balance;filament centre tap;heater centre tap;heater center tap;filament center tap"),
    _Role("bias adjust", "potentiometer resistor", "bias control;bias set;bias pot;bias balance;bias trim;adjust bias;"
          "bias preset;bias setting;bias adjustment"),
    _Role("bias feed", "resistor", "bias dropping;bias dropper;bias divider;back bias"),
    _Role("diode load", "resistor potentiometer", "detector load;detector;diode load resistor"),
    _Role("volume", "potentiometer", "volume control;gain;gain control;level;level control;loudness;record level"),
    _Role("channel balance", "potentiometer", "balance control;stereo balance;left right balance"),
    _Role("surge", "resistor thermistor", "surge resistor;surge limiter;surge limiting;inrush;inrush limiter;"
          "current limiting;protective resistor;rectifier resistor"),
    _Role("lamp shunt", "resistor", "pilot shunt;lamp resistor;pilot resistor;lamp dropper;pilot lamp shunt;lamp "
          "dropping"),
    _Role("meter", "meter resistor lamp", "meter shunt;meter multiplier;multiplier;vu meter;tuning meter;s meter"),
    _Role("choke", "choke", "filter choke;smoothing choke;field;field coil;inductor;speaker field"),
    _Role("power transformer", "transformer", "mains transformer;netztrafo;mains trafo;heater transformer;filament "
          "transformer"),
    _Role("output transformer", "transformer", "opt;output trafo;audio output transformer;speaker transformer"),
    _Role("interstage transformer", "transformer", "driver transformer;audio transformer;phase splitting transformer;"
          "input transformer;microphone transformer"),
    _Role("if transformer", "transformer coil", "ift;if can;i f transformer;detector transformer"),
    _Role("rectifier", "tube diode", "rect;rectifier tube;rectifier valve;rectification"),
    _Role("regulator", "tube diode", "voltage regulator;stabilizer;stabiliser;voltage reference;regulator tube"),
    _Role("fuse", "fuse", "mains fuse;line fuse;ht fuse;b+ fuse"),
    _Role("power switch", "switch", "mains switch;on off switch;on off;line switch"),
    _Role("standby", "switch", "standby switch;stand by"),
    _Role("band switch", "switch", "wave change;wave change switch;wave switch;band selector;range switch;function "
          "switch;"
          "selector;selector switch"),
    _Role("mains cord", "cord", "line cord;power cord;mains lead;power lead;line plug;mains plug"),
    _Role("speaker", "speaker", "loudspeaker;woofer"),
    _Role("record head", "head", "recording head"),
    _Role("playback head", "head", "play head;replay head;reproduce head;record play head;tape head"),
    _Role("erase head", "head", "eraser;erasing head"),
    _Role("pickup", "cartridge", "pick up;phono;phono cartridge;tonabnehmer"),
    _Role("drive", "motor belt drive wheel", "capstan;capstan drive;reel drive;rewind;take up;idler;pinch wheel;"
          "pinch roller;drive belt;counter"),
    _Role("heater battery", "battery", "a battery;lt battery;filament battery"),
    _Role("plate battery", "battery", "b battery;ht battery;anode battery"),
    _Role("bias battery", "battery", "c battery;grid bias battery;gb battery"),
)  # fmt: skip
_KIND_NAMES = ("tuning capacitor", "drive wheel", "dial cord")


def _kinds(text: str) -> tuple[str, ...]:
    """Split kinds parted by blanks, of which a few hold a blank themselves."""
    for name in _KIND_NAMES:
        text = text.replace(name, name.replace(" ", "_"))
    return tuple(each.replace("_", " ") for each in text.split())


ROLES = tuple(role.name for role in _TABLE)
"""Every role of the parts list."""

KINDS_OF_ROLE: dict[str, tuple[str, ...]] = {role.name: _kinds(role.kinds) for role in _TABLE}
"""The kinds of part that can have a role, likeliest first."""

_VAGUE = {
    "filter": "reservoir (the first capacitor after the rectifier) or smoothing (a later one)",
    "bypass": "cathode bypass or screen bypass",
    "line": "line to line or line to chassis",
    "line bypass": "line to line or line to chassis",
    "motor": "motor run or motor start for a capacitor, drive for the motor itself",
    "safety": "line to line or line to chassis",
    "power": "reservoir or smoothing, or power switch",
    "electrolytic": "reservoir, smoothing, bias filter or cathode bypass",
    "filter capacitor": "reservoir (the first capacitor after the rectifier) or smoothing (a later one)",
}


@lru_cache(maxsize=1024)
def read_role(text: str) -> str:
    """Return the role that a person meant.

    Parameters
    ----------
    text : str
        Any case, hyphens, plural, common other words, small slips of spelling.

    Returns
    -------
    str
        One of `ROLES`.

    Raises
    ------
    ValueError
        Unknown, or a word for several roles; the message names the nearest.
    """
    key = _key(text)
    words = _words()
    for each in (key, _singular(key)):
        if each in words:
            return words[each]
    plain = words.get(re.sub(r" resistors?$", "", key), "")
    if key.endswith(("resistor", "resistors")) and "resistor" in KINDS_OF_ROLE.get(plain, ()):
        return plain
    if key in _VAGUE or _singular(key) in _VAGUE:
        raise ValueError(
            f"{text.strip()!r} can be more than one role: {_VAGUE.get(key) or _VAGUE[_singular(key)]}"
        )
    return _nearest(text, key, words)


def role_said(text: str, *, vague: bool = False) -> str | None:
    """Return the role that words name exactly, or None: what is only near may be something else.

    Raises
    ------
    ValueError
        With `vague`, for a word such as filter that is no marking, and may be several roles.
    """
    key, words = _key(text), _words()
    for each in (key, _singular(key)):
        if each in words:
            return words[each]
    plain = words.get(re.sub(r" resistors?$", "", key), "")
    if key.endswith(("resistor", "resistors")) and "resistor" in KINDS_OF_ROLE.get(plain, ()):
        return plain
    if vague and _singular(key) in ("filter", "bypass"):
        read_role(text)
    return None


def _key(text: str) -> str:
    text = re.sub(r"[\s\-_/.:,]+", " ", text[:80].lower().replace("1st", "first").replace("2nd", "second"))
    return text.replace("&", "and").strip()


def _singular(key: str) -> str:
    key = re.sub(r"\b(?:capacitors?|condensers?|caps?|electrolytics?|position)$", "", key).strip() or key
    return re.sub(r"(?<=[a-z]{2})(?<!s)(?<!bia)s\b", "", key)


@cache
def _words() -> dict[str, str]:
    words = {role: role for role in ROLES}
    for role in _TABLE:
        for other in role.words.split(";") if role.words else ():
            if words.setdefault(other, role.name) != role.name:
                raise ValueError(f"the word {other!r} means {words[other]} and {role.name}")
    return words


def _nearest(text: str, key: str, words: dict[str, str]) -> str:
    from difflib import get_close_matches  # only for what is not known at once

    close = get_close_matches(_singular(key), words, n=4, cutoff=0.84)
    meant = list(dict.fromkeys(words[each] for each in close))
    if len(meant) == 1:
        return meant[0]
    near = (
        meant
        or list(dict.fromkeys(words[each] for each in get_close_matches(key, words, n=6, cutoff=0.4)))[:3]
    )
    hint = f"nearest: {', '.join(near)}" if near else f"known are: {', '.join(ROLES)}"
    raise ValueError(f"unknown role {text.strip()[:40]!r}; {hint}")
