"""Random units with all that an order must close over: the supplies of `random_units`, and stages, chains and more.

Drawn from seed and number alone. Everything here is invented.
"""

import math
import re
from pathlib import Path

import numpy as np
from random_units import Drawn, Tables, draw

COUPLING = (0.005, 0.01, 0.02, 0.05, 0.1, 0.25)
PAPER_V = (200, 400, 600, 630)
TRIODES = ("12AX7", "6SL7GT", "6SN7GTB", "12AU7")
WRONG = ("12AU6", "12BA6", "12AT6", "35C5")


def write(seed: int, number: int, tables: Tables, folder: Path) -> Path:
    """Write unit `number` of this seed; one that cannot be drawn, of no load or no winding, is drawn again."""
    made = next(filter(None, (_drawn(seed, number + again, tables) for again in range(0, 50_000, 1000))))
    drawing = _Further(np.random.default_rng([seed, number, 7]), made.toml, made.parts)
    drawing.extend()
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "unit.toml").write_text(drawing.toml, encoding="utf-8")
    (folder / "parts.csv").write_text("ref,marking,role,at,measured,note\n" + drawing.parts, encoding="utf-8")
    return folder


def _drawn(seed: int, number: int, tables: Tables) -> Drawn | None:
    try:
        made = draw(seed, number, tables)
    except ValueError:  # the logarithm of a load of nothing
        return None
    empty = re.search(r"secondary_v = 0$|load_ohm = (?:\d{9,}|[\d.]+e\+)", made.toml, re.MULTILINE)
    return None if empty else made


class _Further:
    """What is added to a drawn unit, each with a chance of its own."""

    def __init__(self, rng: np.random.Generator, toml: str, parts: str):
        self.rng, self.toml, self.parts = rng, toml, parts
        self.nodes = re.findall(r'^id = "(B\d+)"', toml, re.MULTILINE)
        self.heated = re.findall(r'^id = "(H1)"', toml, re.MULTILINE)

    def chance(self, share: float) -> bool:
        return bool(self.rng.random() < share)

    def one(self, choices):
        return choices[int(self.rng.integers(len(choices)))]

    def part(self, *cells: str) -> None:
        self.parts += ",".join(cells) + "\n"

    def extend(self) -> None:
        """Add to the unit."""
        if self.chance(0.35):
            self._chain()
        for n in range(int(self.rng.integers(0, 4))):
            self._stage(n)
        if self.chance(0.5):
            self._loose()
        if self.chance(0.4):
            self._mechanics()
        if self.heated and self.chance(0.25):
            self._bias_supply()

    def _chain(self) -> None:
        """One electrolytic becomes two in series, with or without balance resistors."""
        found = re.search(r"^(C[12]),([\d.]+) µF ([\d.]+) V,(\w+),(B\d),*$", self.parts, re.MULTILINE)
        if found is None or f'capacitors = ["{found[1]}"]' not in self.toml:
            return
        uf, volts = 2 * float(found[2]), float(found[3]) / 2
        first, second = f"{found[1]}1", f"{found[1]}2"
        rows = "\n".join(f"{ref},{uf:g} µF {volts:g} V,{found[4]},{found[5]},," for ref in (first, second))
        self.parts = self.parts.replace(found[0], rows)
        self.toml = self.toml.replace(f'capacitors = ["{found[1]}"]', f'capacitors = ["{first}+{second}"]')
        if self.chance(0.5):
            for n, ref in enumerate((first, second)[:self.one((1, 2))]):
                self.part(f"R7{n}", "220k 1W", "balance", ref, "", "")

    def _stage(self, n: int) -> None:
        """A triode stage with its resistors, bypass and coupling capacitors."""
        if not self.heated:
            return
        ref, node = f"V5{n}", self.one(self.nodes)
        tube = self.one(TRIODES)
        note = self.one(("", "", "", "missing", "weak"))
        self.part(ref, tube, "", "H1", "", note)
        plate, cathode = self.one(("100k 1W", "47k 1W", "220k", "27k 1/2W")), self.one(("1k5", "820", "2.7k"))
        measured = f"{float(self.one((90, 130, 160))):g} k" if plate == "100k 1W" and self.chance(0.3) else ""
        self.part(f"R5{n}", plate, "plate load", ref, measured, "")
        self.part(f"R6{n}", cathode, "cathode", ref, "", "")
        self.part(f"C5{n}", f"{self.one(COUPLING)} {self.one(PAPER_V)}V", "coupling", ref, "",
                  self.one(("wax", "", "black tubular", "room for 12 x 30 mm")))
        self.part(f"C6{n}", f"{self.one((10, 25, 50))} uF {self.one((12, 25, 50))} V", "cathode bypass", ref, "", "")
        self.toml += (f'[[stage]]\ntubes = ["{ref}A"]\nplate = "{node}"\nplate_through = "R5{n}"\n'
                      f'cathode_through = "R6{n}"\n')

    def _loose(self) -> None:
        """Parts of the line and of nobody knows where."""
        self.part("C80", f"{self.one(COUPLING)} {self.one(PAPER_V)}V", "line to chassis", "", "", "")
        self.part("C81", f"{self.one(COUPLING)} {self.one(PAPER_V)}V", "line to line", "", "", "")
        self.part("C82", self.one(("4 MFD 450V", "3 µF 330 VAC", "4 µF 220 VAC")), "motor run", "", "", "")
        self.part("C83", f"{self.one(COUPLING)} {self.one(PAPER_V)}V", "coupling", self.one(self.nodes), "", "")
        self.part("F1", self.one(("3AG 10A", "T 1A", "F 0.5A", "T 250mA")), "fuse", "", "", "")
        self.part("R80", "1k 1W", "", "", f"{self.one((5, 20, 40))} V", "")
        if self.heated and self.chance(0.3):
            self.part("V80", self.one(WRONG), "", "H1", "", "")

    def _mechanics(self) -> None:
        self.part("BELT1", "belt", "", "", self.one(("path 225 mm", "")), self.one(("", "cracked")))
        self.part("CORD1", self.one(("two-wire cord", "3-core cord")), "", "", "", self.one(("", "frayed")))
        self.part("SW1", "two-pole switch", "", "", "", self.one(("", "noisy")))
        self.part("VR1", "500k log pot", "", "", "", self.one(("", "scratchy")))

    def _bias_supply(self) -> None:
        """A negative supply from a tap, selenium or silicon, half-wave."""
        volts = float(self.one((35, 50, 70)))
        crest = math.sqrt(2) * volts
        self.part("D70", self.one(("selenium 50 mA", "1N4007")), "rectifier", "", "", "")
        self.part("C70", f"{self.one((10, 50, 100))} uF {min((50, 100, 150), key=lambda v: abs(v - crest)):g} V",
                  "bias filter", "C-", "", "")
        self.toml = re.sub(r"(?m)^\[supply\]$", "[[supply]]", self.toml)
        self.toml += (f'[[supply]]\nid = "bias"\npolarity = "negative"\nrectifier = "D70"\ncircuit = "half-wave"\n'
                      f'secondary_v = {volts:g}\nsecondary_ohm = 40\n'
                      f'[[supply.node]]\nid = "C-"\nload_ohm = {self.one((15000, 47000)):g}\n')
