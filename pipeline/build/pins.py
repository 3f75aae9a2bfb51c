"""Pin maps as raw tables write them: `1:t2_p 2:k+g3 4:h cap:g1`."""

import re
from typing import NamedTuple

_PIN = re.compile(r"^(?P<pin>\d+|cap):(?:(?!h_ct)(?P<section>t\d?|p\d?|h\d?|d\d?|o)_)?(?P<electrode>[a-z0-9+_-]+)$")
_PART = re.compile(r"^(?:(?!h_ct)(t\d?|p\d?|h\d?|d\d?|o)_)?([a-z0-9_-]+)$")


class Pin(NamedTuple):
    """One pin and every electrode joined to it, each as (section or empty, electrode)."""

    pin: str
    parts: frozenset[tuple[str, str]]

    @property
    def electrodes(self) -> set[str]:
        return {electrode for _, electrode in self.parts}


def split_pins(pins: object) -> list[dict[str, str | None]]:
    """`1:t2_p 2:k+g3` → pin, section and electrode of each; raises ValueError for what is no pin."""
    result = []
    for token in str(pins).split():
        match = _PIN.match(token)
        if not match:
            raise ValueError(f"{token!r} is not pin:section_electrode")
        result.append(match.groupdict())
    return result


def pin_map(pins: object) -> list[Pin]:
    """The same map with joined electrodes taken apart; raises ValueError for what is no pin."""
    return [joined(str(p["pin"]), "_".join(filter(None, (p["section"], p["electrode"])))) for p in split_pins(pins)]


def joined(pin: str, text: str) -> Pin:
    """A pin from its electrodes as written, `p_k+p_g3`; a part without a section has the section ''."""
    found = [match.groups() for part in text.split("+") if (match := _PART.match(part))]
    return Pin(pin, frozenset((section or "", electrode) for section, electrode in found))
