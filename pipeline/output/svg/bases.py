"""Where the pins of each base lie, seen from below: one table, used by the figure and by the text drawing."""

import re
from typing import NamedTuple


class Base(NamedTuple):
    """A base from below, its mark at the foot of the drawing.

    `angles` are degrees clockwise from the mark, pin 1 first. `shape` is what is drawn at the mark: spigot, gap, bump,
    large (pins), contacts or ring. `note` says what the drawing cannot promise.
    """

    name: str
    mark: str
    shape: str
    angles: tuple[float, ...]
    large: tuple[int, ...] = ()
    note: str = ""

    @property
    def read_from(self) -> str:
        """How the pins are counted."""
        between = "between " if self.mark.endswith("pins") else ""
        return "seen from below, clockwise" + (f" from {between}the {self.mark}" if self.mark else "")


ORDER_ONLY = "Drawn evenly: only the order of the pins is meant. Find pin 1 in the maker's drawing."


def _even(count: int) -> tuple[float, ...]:
    return tuple((i + 0.5) * 360 / count for i in range(count))


def _gap(count: int, pitch: float) -> tuple[float, ...]:
    return tuple((360 - (count - 1) * pitch) / 2 + i * pitch for i in range(count))


_SAME_SIZE = "The five pins are of one size; their true spacing is uneven. Find the heater pins by the ohmmeter."

# Pin 1 is the first pin clockwise from the key, gap or mark, the tube seen from below: the convention of EIA RS-209 and
# of every handbook (recalled). Evidence of the angles stands on each line. "KiCad" is the footprint library of KiCad
# 6.0.10 (Valve.pretty), read: another work, so no more than quoted, and drawn from above, so mirrored here.
BASES = {
    "octal": Base("octal", "key", "spigot", _even(8)),  # 8 at 45 degrees: KiCad Valve_Octal, on a coarse grid
    "noval": Base("noval", "gap", "gap", _gap(9, 36)),  # 9 of 10 places: KiCad Valve_ECC-83-1
    "miniature7pin": Base("miniature 7-pin", "gap", "gap", _gap(7, 45)),  # 7 of 8 places: KiCad Valve_Mini_P
    "loctal": Base("loctal", "key", "spigot", _even(8)),  # 8 at 45 degrees, lock-in spigot with key: recalled
    "rimlock": Base("rimlock", "bump", "bump", _even(8)),  # 8 at 45 degrees, bump between 8 and 1: recalled
    "magnoval": Base("magnoval", "gap", "gap", _gap(9, 36)),  # noval on a wider circle: recalled
    "novar": Base("novar", "gap", "gap", _gap(9, 36)),  # noval on a wider circle: recalled
    "duodecar": Base("duodecar", "gap", "gap", _gap(12, 360 / 13)),  # 12 of 13 places: recalled
    "b9g": Base("B9G", "key", "spigot", _even(9)),  # 9 at 40 degrees, spigot with key: recalled
    "ux4": Base("UX-4", "large pins", "large", _even(4), (1, 4)),  # corners of a square, nearly: recalled
    "ux5": Base("UX-5", "end pins", "ring", _even(5), note=_SAME_SIZE),  # order only: recalled
    "ux6": Base("UX-6", "large pins", "large", _even(6), (1, 6)),  # 6 at 60 degrees: recalled
    "ux7": Base("UX-7", "large pins", "large", _even(7), (1, 7)),  # 7 spread evenly: recalled
    "mazdaoctal": Base("Mazda octal", "key", "spigot", _even(8), note=ORDER_ONLY),  # spaced unevenly: recalled
    "sidecontact": Base("side-contact", "", "contacts", _even(8), note=ORDER_ONLY),  # in groups: recalled
    "steel8pin": Base("steel 8-pin", "", "ring", _even(8), note=ORDER_ONLY),  # in groups: recalled
}
_ALIASES = {"b9a": "noval", "miniature9pin": "noval", "9pinminiature": "noval", "7pinminiature": "miniature7pin",
            "b7g": "miniature7pin", "b8a": "rimlock", "b9d": "magnoval", "b8b": "loctal", "k8a": "octal", "uy5": "ux5",
            "compactron": "duodecar", "p8a": "sidecontact", "sidecontactp": "sidecontact"}


def base_of(name: str | None) -> Base | None:
    """The base of that name, however it is spelt; None where the lie of its pins is not held."""
    key = re.sub(r"[^a-z0-9]", "", (name or "").lower())
    return BASES.get(_ALIASES.get(key, key))
