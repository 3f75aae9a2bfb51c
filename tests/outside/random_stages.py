"""Random whole units: supplies of every kind, and the stages on them; their two files and their plain ratings.

Everything is drawn from seed and number alone. Ratings are read straight from the built tables; nothing of `pipeline`
is imported.
"""

import math
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
from random_units import Tables

OUTPUTS = {"6BQ5": 7.3, "6V6GT": 12.5, "6AQ5": 12.5, "6L6GC": 14.0, "6CA7": 13.5, "7591": 10.0, "KT66": 15.0, "EL86": 12.5}
"""Output tubes and the volts that bias them about where makers do."""
TRIODES = ("12AX7", "12AU7", "6SN7GTB", "12AT7", "6SL7GT")
PENTODES = ("6267", "6AU6", "5879", "6SJ7")
TUBE_RECTIFIERS = {"full-wave": ("5Y3GT", "5U4GB", "5AR4", "6X4", "6CA4", "5V4GA"), "half-wave": ("35W4", "UY41", "35Z4GT")}
WATTS = (0.25, 0.5, 1, 2, 3, 5)
TRADE_V = (6, 12, 25, 50, 100, 160, 200, 250, 300, 350, 400, 450, 500, 600, 630)


class Section(NamedTuple):
    """One section of a tube as it stands in the unit, and the row of its limits."""

    place: str
    type: str
    limits: dict[str, Any]
    design_centre: bool
    screened: bool


class Capacitor(NamedTuple):
    """A capacitor on a tube: from which electrode of which section to which grid, and its rated volts."""

    volts: float
    at: str
    electrode: str
    to: str | None


@dataclass
class Whole:
    """One unit: its two files, and what its parts bear."""

    number: int
    toml: list[str] = field(default_factory=list)
    parts: list[str] = field(default_factory=list)
    sections: dict[str, Section] = field(default_factory=dict)
    watts: dict[str, float] = field(default_factory=dict)
    capacitors: dict[str, Capacitor] = field(default_factory=dict)
    grids: dict[str, tuple[float, bool]] = field(default_factory=dict)
    winding_a: float = 0.0
    kind: str = ""

    def write(self, folder: Path) -> Path:
        folder.mkdir(parents=True, exist_ok=True)
        (folder / "unit.toml").write_text("\n".join(self.toml) + "\n", encoding="utf-8")
        (folder / "parts.csv").write_text("ref,marking,role,at,measured,note\n" + "\n".join(self.parts) + "\n",
                                          encoding="utf-8")
        return folder


def draw_whole(seed: int, number: int, tables: Tables) -> Whole:
    """Unit `number` of this seed."""
    drawing = _Drawing(np.random.default_rng([seed, number, 7]), number, tables)
    drawing.leaks = np.random.default_rng([seed, number, 17])  # dice of their own: grid leaks change no circuit
    return drawing.unit()


class _Drawing:
    """One drawing in progress."""

    def __init__(self, rng: np.random.Generator, number: int, tables: Tables):
        self.rng, self.tables, self.made = rng, tables, Whole(number)
        self.tubes = self.resistors = self.couplings = 0
        self.leaks = rng
        self.stages: list[str] = []
        self.plates: list[str] = []

    def between(self, low: float, high: float) -> float:
        return float(self.rng.uniform(low, high))

    def one(self, of: Any) -> Any:
        return of[int(self.rng.integers(len(of)))]

    def chance(self, p: float) -> bool:
        return bool(self.rng.random() < p)

    def part(self, ref: str, marking: str, role: str = "", at: str = "") -> str:
        self.made.parts.append(f"{ref},{marking},{role},{at},,")
        return ref

    def resistor(self, ohm: float, role: str, expected_w: float) -> str:
        """A resistor of two figures, its watts about what it burns: sometimes too few."""
        self.resistors += 1
        step = 10.0 ** (math.floor(math.log10(ohm)) - 1)
        ohm, wanted = round(ohm / step) * step, expected_w * self.between(0.8, 3)
        watts = min(WATTS, key=lambda w: abs(math.log(w / max(wanted, 0.05))))
        size = f"{ohm / 1e6:g} meg" if ohm >= 1e6 else f"{ohm:g} ohm"
        marking = f"{size} {watts:g}W" + self.one((" 5%", " 10%", "", ""))
        ref = self.part(f"R{self.resistors}", marking, role)
        self.made.watts[ref] = watts
        return ref

    def unit(self) -> Whole:
        self._supply()
        self.minus = self._bias() if self.kind in ("full-wave", "bridge") and self.chance(0.6) else None
        for _ in range(int(self.rng.integers(1, 4))):
            self._coupled()
        for _ in range(int(self.rng.integers(1, 3))):
            self._output()
        self.made.toml += self.stages
        self.made.kind = self.kind
        return self.made

    def _supply(self) -> None:
        self.kind = self.one(("full-wave", "full-wave", "full-wave", "bridge", "half-wave", "doubler"))
        nominal, hertz = self.one(((117.0, 60), (230.0, 50), (220.0, 50)))
        self.made.toml = [f'name = "Whole {self.made.number}"', f"mains_v = {nominal * self.between(0.97, 1.04):.1f}",
                          f"mains_hz = {hertz}", f"design_mains_v = {nominal:g}"]
        tube = self.kind in TUBE_RECTIFIERS and self.chance(0.7)
        volts = {"full-wave": self.between(200, 340), "bridge": self.between(170, 300), "doubler": self.between(100, 140),
                 "half-wave": self.between(110, 230)}[self.kind]
        self.crest = math.sqrt(2) * volts * (2 if self.kind == "doubler" else 1)
        self.level = self.crest * (0.75 if self.kind == "half-wave" else 0.85)
        self.part("V99" if tube else "D99", self.one(TUBE_RECTIFIERS[self.kind]) if tube else "1N4007", "rectifier")
        choke = self.kind == "full-wave" and self.chance(0.15)
        two_way = self.kind in ("full-wave", "bridge")
        self.made.winding_a = round(self.between(0.05, 0.25), 3)
        self.made.toml += ["[[supply]]", 'id = "HT"', f'rectifier = "{"V99" if tube else "D99"}"',
                           f'circuit = "{self.kind}"', f"secondary_v = {volts:.0f}",
                           f"secondary_ohm = {volts * self.between(0.1, 0.5):.0f}", f"secondary_a = {self.made.winding_a}",
                           f"primary_ohm = {self.between(1, 20):.1f}"]
        self.made.toml += ['input = "choke"'] if choke else []
        self._node("B1", None, f"{self.one((5, 8, 10))} H {self.between(80, 250):.0f} ohm" if choke else None,
                   self.one((22, 33, 47, 50) if two_way else (50, 80, 100, 100)), "C91")
        self._node("B2", "B1", f"{self.one((5, 8, 10))} H {self.between(80, 300):.0f} ohm" if self.chance(0.5)
                   else f"{self.between(200, 1500):.0f} ohm 10W", self.one((16, 20, 33, 47)), "C92")
        self._node("B3", "B2", f"{self.one((4.7, 10, 15, 22))}k 2W", self.one((8, 16, 22)), "C93")

    def _node(self, name: str, source: str | None, through: str | None, uf: float, ref: str) -> None:
        capacitors = f'["{ref}", "{ref}X"]' if name == "B1" and self.kind == "doubler" else f'["{ref}"]'
        for each in (ref, f"{ref}X") if name == "B1" and self.kind == "doubler" else (ref,):
            self.part(each, f"{uf:g} µF 600 V", "reservoir" if source is None else "smoothing")
        self.made.toml += ["[[supply.node]]", f'id = "{name}"', f"capacitors = {capacitors}"]
        self.made.toml += [f'from = "{source}"'] if source else []
        if through:
            lead = self.part(f"{'L' if 'H' in through else 'R'}9{name[1]}", through,
                             "choke" if "H" in through else "dropping")
            self.made.toml.append(f'through = "{lead}"')

    def _bias(self) -> str:
        volts = self.between(25, 60)
        self.part("D98", "1N4007")
        self.part("C81", "47 µF 100 V", "bias filter")
        self.made.toml += ["[[supply]]", 'id = "bias"', 'polarity = "negative"', 'winding = "tap"', 'rectifier = "D98"',
                           'circuit = "half-wave"', f"secondary_v = {volts:.1f}", f"secondary_ohm = {self.between(10, 60):.0f}",
                           "[[supply.node]]", 'id = "C1-"', 'capacitors = ["C81"]']
        self.minus_v = 1.3 * volts
        if self.chance(0.6):
            share = self.between(0.4, 0.9)
            self.part("R81", f"{33 * (1 / share - 1):.1f}k 1W", "dropping")
            self.part("R82", "33k 1W", "bleeder", "C2-")
            self.part("C82", "47 µF 100 V", "bias filter")
            self.made.toml += ["[[supply.node]]", 'id = "C2-"', 'from = "C1-"', 'through = "R81"', 'capacitors = ["C82"]']
            self.minus_v *= share
            return "C2-"
        return "C1-"

    def tube(self, type_: str, sections: tuple[str, ...] = ("",)) -> list[str]:
        """The places of a new tube."""
        self.tubes += 1
        ref = self.part(f"V{self.tubes}", type_)
        for letter in sections:
            self._section(f"{ref}{letter}", type_, "each" if letter else "whole")
        return [f"{ref}{letter}" for letter in sections]

    def _section(self, place: str, type_: str, name: str) -> None:
        row = self.tables.rows("sections", f"type = '{type_}' and section = '{name}'")[0]
        system = row["rating_system"] or self.tables.rows("tubes", f"type = '{type_}'")[0]["rating_system"]
        self.made.sections[place] = Section(place, type_, row, system == "design-centre",
                                            "triode" not in (row["kind"] or ""))

    def stage(self, places: list[str], **given: Any) -> None:
        refs = ", ".join(f'"{p}"' for p in places)
        self.stages += ["[[stage]]", f"tubes = [{refs}]"]
        self.stages += [f"{k} = {v}" if isinstance(v, float) else f"{k} = {v}" if str(v).startswith("[") else f'{k} = "{v}"'
                        for k, v in given.items() if v is not None]

    def capacitor(self, role: str, at: str, electrode: str, to: str | None, about_v: float) -> None:
        """A capacitor on a tube, of about the volts it sees: sometimes too few."""
        self.couplings += 1
        wanted = about_v * self.between(0.7, 1.6)
        volts = min(TRADE_V, key=lambda v: abs(math.log(v / max(wanted, 3))))
        marking = f"25 µF {volts} V" if role == "cathode bypass" else f"0.1 µF {volts} V"
        ref = self.part(f"C{self.couplings}", marking, role, f"{at} {to}" if to else at)
        self.made.capacitors[ref] = Capacitor(volts, at, electrode, to)

    def _leak(self, place: str, fixed: bool) -> str:
        """A grid leak for an output tube: sometimes more than it bears."""
        self.resistors += 1
        ohm = float(self.leaks.choice((100e3, 220e3, 330e3, 470e3, 680e3, 1e6, 2.2e6)))
        self.made.grids[place] = (ohm, fixed)
        return self.part(f"R{self.resistors}", f"{ohm / 1e3:g}k 0.5W", "grid leak")

    def _coupled(self) -> None:
        """A resistance-coupled triode, both halves or one, or a pentode."""
        node, volts = self.one((("B3", 0.8), ("B2", 0.95)))
        load = self.one((47e3, 100e3, 100e3, 220e3))
        if self.chance(0.7):
            type_ = self.one(TRIODES)
            load = load / 4 if type_ in ("12AU7", "6SN7GTB", "12AT7") else load
            places = self.tube(type_, ("A", "B"))
            ohm = load * self.between(0.008, 0.03)
            if self.chance(0.4):  # both with one resistor, as a phase splitter or in parallel
                loads = [self.resistor(load, "plate load", 1e4 / load) for _ in places]
                cathode = self.resistor(ohm / 2, "cathode", 0.02)
                self.stage(places, plate=node, plate_through="[" + ", ".join(f'"{r}"' for r in loads) + "]",
                           cathode_through=cathode)
            else:
                for place in places:
                    self.stage([place], plate=node, plate_through=self.resistor(load, "plate load", 1e4 / load),
                               cathode_through=self.resistor(ohm, "cathode", 0.01))
                    self.capacitor("cathode bypass", place, "cathode", None, 2)
            self.plates += places
            return
        place = self.tube(self.one(PENTODES))[0]
        self.stage([place], plate=node, plate_through=self.resistor(load, "plate load", 1e4 / load), screen=node,
                   screen_through=self.resistor(load * self.between(2, 5), "screen", 0.05),
                   cathode_through=self.resistor(load * self.between(0.006, 0.02), "cathode", 0.01))
        self.capacitor("screen bypass", place, "screen", None, self.level * 0.6)
        self.plates.append(place)

    def _output(self) -> None:
        known = [t for t in OUTPUTS if self.tables.rows("sections", f"type = '{t}' and section = 'whole'")]
        type_ = self.one(known)
        push_pull, fixed = self.chance(0.4), self.minus is not None and self.chance(0.6)
        places = [p for _ in range(2 if push_pull else 1) for p in self.tube(type_)]
        connected = self.one(("plate", "plate 43 %", "", "", "", ""))
        winding = self.part(f"T{self.tubes}", f"output transformer {self.between(50, 300):.0f} ohm"
                            + (" CT" if push_pull and self.chance(0.5) else ""))
        given: dict[str, Any] = {"plate": "B1", "plate_through": winding, "service": "push-pull" if push_pull else None}
        given["screen"] = connected or self.one(("B2", "B1"))
        if not connected and self.chance(0.5):
            refs = [self.resistor(self.between(100, 2500), "screen", 0.3) for _ in places]
            given["screen_through"] = "[" + ", ".join(f'"{r}"' for r in refs) + "]"
        if fixed:
            given["grid"] = self.minus if self.chance(0.8) else -round(OUTPUTS[type_] * self.level / 250, 1)
            given["grid"] = given["grid"] if isinstance(given["grid"], str) else float(given["grid"])
        else:
            amps = {"6L6GC": 0.075, "6CA7": 0.09, "KT66": 0.08}.get(type_, 0.045) * len(places)
            ohm = OUTPUTS[type_] * self.level / 250 / amps * self.between(0.7, 1.8)
            given["cathode_through"] = self.resistor(ohm, "cathode", amps**2 * ohm)
            self.capacitor("cathode bypass", places[0], "cathode", None, amps * ohm)
        given["grid_through"] = "[" + ", ".join(f'"{self._leak(place, fixed)}"' for place in places) + "]"
        self.stage(places, **given)
        if self.plates:
            self.capacitor("coupling", self.one(self.plates), "plate", places[0], self.level * 0.8)
