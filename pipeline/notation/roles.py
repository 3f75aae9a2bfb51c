"""Roles of parts: what a part does in the unit, spelling forgiven."""

from __future__ import annotations

import re
from functools import cache

ROLES = (
    "reservoir", "smoothing", "bias filter", "cathode bypass", "screen bypass", "coupling", "tone", "rf",
    "line to line", "line to chassis", "motor run", "motor start", "crossover", "snubber", "lamp", "cathode",
    "plate load", "screen", "grid leak", "dropping", "bleeder", "dropper", "choke", "rectifier", "fuse",
)  # fmt: skip
"""Every role of the parts list."""

_CAPACITORS = ROLES[: ROLES.index("snubber") + 1]
_RESISTORS = ("cathode", "plate load", "screen", "grid leak", "dropping", "bleeder", "dropper")
KINDS_OF_ROLE: dict[str, tuple[str, ...]] = {
    **dict.fromkeys(_CAPACITORS, ("capacitor",)),
    **dict.fromkeys(_RESISTORS, ("resistor",)),
    "tone": ("capacitor", "resistor"), "snubber": ("capacitor", "resistor"),
    "rf": ("capacitor", "resistor", "choke", "tube"), "crossover": ("capacitor", "choke", "resistor"),
    "lamp": ("lamp",), "choke": ("choke",), "rectifier": ("tube", "diode"), "fuse": ("fuse",),
}  # fmt: skip
"""The kinds of part that can have a role, likeliest first."""

_OTHER_WORDS = {
    "reservoir": "first filter;input filter;filter input;first filter capacitor;reservoir filter;filter reservoir;"
    "first electrolytic;input capacitor;ladeelko",
    "smoothing": "second filter;smoothing filter;filter smoothing;filter output;output filter;decoupling;"
    "hum filter;third filter;ripple filter;siebelko;smoother",
    "bias filter": "bias;bias supply;bias smoothing;grid bias filter",
    "cathode bypass": "cathode capacitor;cathode decoupling;bypass cathode;katode bypass",
    "screen bypass": "screen decoupling;screen grid bypass;screen capacitor;g2 bypass",
    "coupling": "coupler;interstage;dc blocking;blocking;coupling capacitor;grid coupling",
    "tone": "tone control;tone capacitor",
    "rf": "radio frequency;rf bypass;if;mica rf",
    "line to line": "across line;across the line;line line;x capacitor;mains to mains;across mains;across the mains;"
    "line to neutral;live to neutral",
    "line to chassis": "line to ground;line to earth;mains to chassis;mains to earth;line chassis;y capacitor;"
    "line to case;mains to ground;neutral to chassis;live to chassis",
    "motor run": "run;motor phase;phase shift;motor capacitor run;run capacitor",
    "motor start": "start;start capacitor;starting",
    "crossover": "cross over;speaker crossover;crossover capacitor;x over",
    "lamp": "pilot;pilot lamp;dial lamp;pilot light;dial light;panel lamp;bulb",
    "cathode": "cathode resistor;cathode bias;self bias",
    "plate load": "anode load;plate;anode;plate resistor;anode resistor;load",
    "screen": "screen resistor;screen grid;screen dropper;screen dropping;g2;screen feed",
    "grid leak": "grid;grid resistor;grid return;leak",
    "dropping": "dropping resistor;b+ dropping;ht dropping;b+ dropper;ht dropper;filter resistor;smoothing resistor",
    "bleeder": "bleed;bleeder resistor;discharge",
    "dropper": "line dropper;heater dropper;mains dropper;ballast;line ballast;heater dropping;dropper resistor",
    "choke": "filter choke;smoothing choke;field;field coil;inductor",
    "rectifier": "rect;rectifier tube;rectifier valve;rectification",
    "fuse": "mains fuse;line fuse;ht fuse",
}
_VAGUE = {
    "filter": "reservoir (the first capacitor after the rectifier) or smoothing (a later one)",
    "bypass": "cathode bypass or screen bypass",
    "line": "line to line or line to chassis",
    "line bypass": "line to line or line to chassis",
    "motor": "motor run or motor start",
    "safety": "line to line or line to chassis",
    "power": "reservoir or smoothing",
    "electrolytic": "reservoir, smoothing, bias filter or cathode bypass",
    "filter capacitor": "reservoir (the first capacitor after the rectifier) or smoothing (a later one)",
}


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


def _key(text: str) -> str:
    text = re.sub(r"[\s\-_/.:,]+", " ", text[:80].lower().replace("1st", "first").replace("2nd", "second"))
    return text.replace("&", "and").strip()


def _singular(key: str) -> str:
    key = re.sub(r"\b(?:capacitors?|condensers?|caps?|electrolytics?|position)$", "", key).strip() or key
    return re.sub(r"(?<=[a-z]{2})(?<!s)s\b", "", key)


@cache
def _words() -> dict[str, str]:
    words = {role: role for role in ROLES}
    for role, others in _OTHER_WORDS.items():
        words.update((other, role) for other in others.split(";"))
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
