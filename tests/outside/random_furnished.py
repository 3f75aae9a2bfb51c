"""Random units for the rules of what else hangs on a supply: bleeders, balances, regulators, fuses, marked chokes, droppers.

The supplies are those of `random_units`, with parts added by dice of their own. Nothing of `pipeline` is imported.
"""

from dataclasses import dataclass, field
from typing import Any, NamedTuple

import numpy as np
from circuit import Stage
from random_units import Drawn, Tables, _Drawing

MILLIAMPS = (20, 40, 60, 80, 100, 150, 200, 300)
FUSES = (0.25, 0.5, 0.8, 1, 1.25, 1.6, 2, 3, 5, 8)
LEAKS_UF = (0.001, 0.0022, 0.0047, 0.01, 0.022, 0.047, 0.1)


class Glow(NamedTuple):
    """A regulator on a node of its own: the node that feeds it, ohms between (and how far off), amps beside it."""

    type: str
    row: dict[str, Any]
    parent: int
    ohm: float
    within: float
    load_a: float


@dataclass
class Furnished:
    """A drawn unit and what was added to it: watts and ohms by ref, the choke's amps, the fuse's, farads to chassis."""

    drawn: Drawn
    watts: dict[str, tuple[float, float]] = field(default_factory=dict)
    bleeders: dict[str, tuple[int, float]] = field(default_factory=dict)
    balances: dict[str, float] = field(default_factory=dict)
    chokes: dict[str, tuple[int, float]] = field(default_factory=dict)
    series: dict[str, tuple[int, float, float]] = field(default_factory=dict)
    leaks: dict[str, float] = field(default_factory=dict)
    fuse_a: float | None = None
    glow: Glow | None = None
    heater_w: float = 0.0
    dropper_w: float | None = None

    @property
    def stages(self) -> tuple[Stage, ...]:
        assert self.drawn.circuit is not None
        return self.drawn.circuit.stages


def draw_furnished(seed: int, number: int, tables: Tables) -> Furnished:
    """Unit `number` of this seed."""
    return _Furnishing(np.random.default_rng([seed, number, 11]), number, tables).furnished()


class _Furnishing(_Drawing):
    """A drawing that adds parts before the files are written."""

    def furnished(self) -> Furnished:
        self.more = Furnished(self.made)
        self.unit()
        return self.more

    def _series(self, i: int, parent: int | None, through: float, level: float) -> tuple[list[str], float, float]:
        words, henry, ohm = super()._series(i, parent, through, level)
        if words:
            line = self.parts.pop()
            if henry:
                amps = min(MILLIAMPS, key=lambda a: abs(a / 1e3 - through * self.between(0.6, 2)))
                self.more.chokes[f"L{i + 1}"] = (i, amps / 1e3)
                line = line.replace(" ohm", f" ohm {amps} mA")
            else:
                watts = self.one((0.5, 1, 2, 3, 5))
                self.more.series[f"R{i + 1}"] = (i, ohm, watts)
                line = line.replace("5W", f"{watts:g}W")
            self.parts.append(line)
        return words, henry, ohm

    def _capacitors(self, stages: list[Stage], crest: float) -> None:
        super()._capacitors(stages, crest)
        last = len(stages) - 1
        if self.chance(0.5):
            ohm, watts = self.one((22e3, 47e3, 100e3, 220e3, 470e3)), self.one((0.25, 0.5, 1, 2, 5))
            self.part("R80", f"{ohm / 1e3:g}k {watts:g}W 5%", "bleeder", f"B{last + 1}")
            self.more.bleeders["R80"], self.more.watts["R80"] = (last, ohm), (ohm, watts)
            self._across(stages, last, ohm)
        if self.kind == "doubler" and self.chance(0.6):
            ohm, watts = self.one((22e3, 47e3, 100e3, 220e3)), self.one((0.5, 1, 2))
            for ref, at in (("R81", "C1"), ("R82", "C9")):
                self.part(ref, f"{ohm / 1e3:g}k {watts:g}W 2%", "balance", at)
                self.more.balances[ref], self.more.watts[ref] = ohm, (ohm, watts)
            self._across(stages, 0, 2 * ohm)
        if self.chance(0.5) and crest > 240 and not self.line:
            self._glow(stages, last, 0.8 * crest)

    @staticmethod
    def _across(stages: list[Stage], i: int, ohm: float) -> None:
        own = stages[i].load_ohm
        stages[i] = stages[i]._replace(load_ohm=ohm if own is None else 1 / (1 / ohm + 1 / own))

    def _glow(self, stages: list[Stage], parent: int, level: float) -> None:
        """A glow tube behind a resistor; what it draws from its parent is a line in that one's volts."""
        rows = [r for r in self.tables.rows("regulators", "start_v > 0 and operating_v > 0 and least_a > 0 and greatest_a > 0 "
                                            "order by type") if r["operating_v"] < 0.75 * level]
        row = self.one(rows)
        amps = row["least_a"] + (row["greatest_a"] - row["least_a"]) * self.between(-0.2, 1.15)
        load = round(self.between(0.1, 1.0) * row["greatest_a"], 4)
        ohm = max(round((level - row["operating_v"]) / (max(amps, 0.1 * row["least_a"]) + load), -2), 100.0)
        self.part("R85", f"{ohm:g} ohm 20W 5%", "dropping", f"B{parent + 2}")
        self.part("V85", row["type"])
        self.more.glow = Glow(row["type"], row, parent, ohm, 0.05, load)
        self.node_lines.append([f'id = "B{parent + 2}"', f'from = "B{parent + 1}"', 'through = "R85"', f"load_a = {load:g}",
                                'regulator = ["V85"]'])

    def _heaters(self) -> None:
        super()._heaters()
        self.more.heater_w = sum(h.volts * h.amps for _, _, heaters in self.made.windings.values() for h in heaters)
        if self.chance(0.6):
            watts = self.more.heater_w + 1.3 * self.volts * self._about_a()
            wanted = watts / self.made.design_v * self.log(0.6, 9)
            self.more.fuse_a = min(FUSES, key=lambda a: abs(a - wanted))
            self.part("F1", f"{self.more.fuse_a:g} A fuse", "fuse")
        for n in range(int(self.rng.integers(0, 3))):
            uf = self.one(LEAKS_UF)
            self.part(f"C7{n}", f"{uf * 1e3:g} nF Y2 250 VAC", "line to chassis")
            self.more.leaks[f"C7{n}"] = uf * 1e-6

    def _about_a(self) -> float:
        return sum(s.load_a + s.load_k * self.volts**1.5 + (1.2 * self.volts / s.load_ohm if s.load_ohm else 0.0)
                   for s in self.more.stages)

    def _dropper(self, members: list[Any]) -> float:
        ohm = super()._dropper(members)
        if ohm:
            self.more.dropper_w = self.one((2.0, 5.0, 10.0, 15.0, 25.0))
            self.parts.append(self.parts.pop().replace("25W", f"{self.more.dropper_w:g}W"))
        return ohm
