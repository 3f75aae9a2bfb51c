"""The result of reading a marking."""

from __future__ import annotations

from typing import Any, NamedTuple

from pipeline.records import Record, replace

_ALWAYS = {
    "capacitor": ("sections", "volts_ac", "polarised", "safety_class"),
    "resistor": ("ohms", "watts", "tolerance_pct"),
    "tube": ("type", "via"),
    "lamp": ("type",),
    "fuse": ("amps", "speed"),
    "choke": ("henries", "ohms", "amps"),
    "diode": ("type",),
    "potentiometer": ("ohms", "watts", "tolerance_pct"),
    None: ("why",),
}
_CONTROL = ("taper", "tracks", "switched", "centre_tap")
_FURTHER = (
    "type", "sections", "windings", "volts", "amps", "watts", "ohms", "centre_tap", "henries", "uf", "hertz", "rpm",
    "contacts", "pins", "tracks", "teeth", "length_mm", "diameter_mm", "width_mm", "thickness_mm", "shape",
)  # fmt: skip
"""What a part beyond electronics may hold, where it is known."""
_WHEN_KNOWN = {
    "capacitor": ("volts_surge", "tolerance_band_pct"),
    "lamp": ("volts", "amps"),
    "fuse": ("volts",),
    "diode": ("volts_ac", "amps", "circuit"),
    "resistor": ("centre_tap",),
    "potentiometer": _CONTROL,
    None: ("could_be", "near"),
}


class Refusal(ValueError):
    """Text that looks like the kind asked for, yet cannot be read; the message says why, `near` what it may mean."""

    def __init__(self, why: str, near: tuple[str, ...] = ()):
        super().__init__(why)
        self.near = near


class Section(NamedTuple):
    """One section of a capacitor: microfarads, and rated working volts DC where marked."""

    uf: float
    volts_dc: float | None = None


class Winding(NamedTuple):
    """One winding of a transformer: volts rms (of each half, where it has a centre tap) and rated amps."""

    volts: float
    amps: float | None = None
    centre_tap: bool = False


class Reading(Record, kw_only=True):
    """What a marking means; what its kind does not have stays None or empty.

    Attributes
    ----------
    marking : str
        The text as it was typed.
    kind : str or None
        capacitor, resistor, tube, lamp, fuse, choke, diode, or another name of `kinds.NAMES`; None where it
        could not be read.
    sections : tuple of Section
        Capacitor: µF and volts DC of each section.
    volts_ac : float or None
        Capacitor: rated volts rms; diode: volts rms in its own marking.
    volts_surge : float or None
        Capacitor: surge or peak volts, where marked beside the working volts.
    polarised : bool or None
        Capacitor: marked so or plain from its kind; None where the marking does not decide.
    safety_class : str or None
        Capacitor: X1, X2, Y1, Y2 ...
    tolerance_band_pct : tuple of float or None
        Capacitor: least and greatest deviation in percent, such as (-10, 50).
    ohms, watts, tolerance_pct : float or None
        Resistor, potentiometer; ohms also of a choke's winding, a speaker, a coil.
    type, via : str or None
        Catalogue type of a tube, lamp or diode; how a tube was recognised.
    volts, amps, henries : float or None
        Lamp: volts, amps; fuse: amps, volts; choke: henries, amps; diode: amps.
    speed : str or None
        Fuse: one of `small.SPEEDS`.
    windings : tuple of Winding
        Transformer: what is printed of its windings.
    centre_tap : bool or None
        Resistor, transformer: marked CT; its ohms are then from end to end.
    taper, tracks, switched : str, int or None, bool or None
        Potentiometer: log, linear or antilog; how many tracks (of a head too); whether a switch is on it.
    uf, hertz, rpm, teeth, pins : float or None
        Motor: the capacitor it asks for; hertz of motor, vibrator, crystal; revolutions a minute; teeth of a
        wheel; pins of socket or connector.
    length_mm, diameter_mm, width_mm, thickness_mm : float or None
        Belt: inside length round the belt and its section; diameter of wheel or speaker; length of a cord.
    shape : str or None
        Belt: square, flat or round.
    contacts : str or None
        Switch, relay: contacts as printed, such as DPDT.
    circuit : str or None
        Diode: half-wave, bridge, centre tap or doubler, where its marking says so.
    why : str or None
        Why it could not be read.
    could_be, near : tuple of str
        Not read: the kinds it could be; the nearest known names.
    notes : tuple of str
        What was assumed, converted or left out; each a sentence a person can act on.
    bare : bool
        True where the marking is a number without a unit, so that other kinds could claim it too.
    """

    marking: str = ""
    kind: str | None
    sections: tuple[Section, ...] = ()
    volts_ac: float | None = None
    volts_surge: float | None = None
    polarised: bool | None = None
    safety_class: str | None = None
    tolerance_band_pct: tuple[float, float] | None = None
    ohms: float | None = None
    watts: float | None = None
    tolerance_pct: float | None = None
    type: str | None = None
    via: str | None = None
    volts: float | None = None
    amps: float | None = None
    henries: float | None = None
    speed: str | None = None
    circuit: str | None = None
    windings: tuple[Winding, ...] = ()
    centre_tap: bool | None = None
    taper: str | None = None
    tracks: float | None = None
    switched: bool | None = None
    uf: float | None = None
    hertz: float | None = None
    rpm: float | None = None
    teeth: float | None = None
    pins: float | None = None
    length_mm: float | None = None
    diameter_mm: float | None = None
    width_mm: float | None = None
    thickness_mm: float | None = None
    shape: str | None = None
    contacts: str | None = None
    why: str | None = None
    could_be: tuple[str, ...] = ()
    near: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    bare: bool = False

    def as_dict(self) -> dict[str, Any]:
        """Return the object printed by ``read --format json``: plain types, the contract's names.

        Beyond the contract's keys it holds, only where there is something to say, ``notes`` and the
        further keys of `Reading` that its kind knows.
        """
        result: dict[str, Any] = {"marking": self.marking, "kind": self.kind}
        result.update((name, _plain(getattr(self, name))) for name in _ALWAYS.get(self.kind, ()))
        further = _WHEN_KNOWN.get(self.kind, ()) if self.kind in _ALWAYS else _FURTHER
        for name in (*further, "notes"):
            value = _plain(getattr(self, name))
            if value not in (None, []):
                result[name] = value
        return result

    def noted(self, *notes: str) -> Reading:
        """Return a copy with further notes."""
        return replace(self, notes=(*self.notes, *notes))


def unread(why: str, could_be: tuple[str, ...] = (), near: tuple[str, ...] = ()) -> Reading:
    """Return the reading of what cannot be read."""
    return Reading(kind=None, why=why, could_be=could_be, near=near)


def _plain(value: Any) -> Any:
    """Turn tuples into lists and sections into objects, for JSON."""
    if isinstance(value, Section | Winding):
        return value._asdict()
    if isinstance(value, tuple):
        return [_plain(item) for item in value]
    return value
