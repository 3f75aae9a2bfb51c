"""Random units for the test that no pass is false: their files, and what is true of them in plain numbers.

Everything is drawn from seed and number alone, so that one unit can be made again. Figures of types are read
straight from the built tables; nothing of `pipeline` is imported.
"""

import math
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Any, NamedTuple

import duckdb
import numpy as np
from circuit import Circuit, Stage

TRADE_UF = (4, 8, 10, 16, 20, 22, 30, 32, 40, 47, 50, 60, 80, 100, 150, 220)
TRADE_V = (150, 160, 200, 250, 300, 350, 385, 400, 450, 475, 500, 525, 600, 800)
POWER = ("6V6GT", "6BQ5", "6AQ5", "6L6GC", "6SN7GTB", "12AX7", "6SL7GT")
SILICON = ("1N4003", "1N4004", "1N4005", "1N4006", "1N4007", "1N5399", "1N5408")
STRINGS = {0.15: (("35W4",), ("50C5", "50B5", "35C5", "50EH5"), ("12BE6", "12BA6", "12AV6", "12AT6", "12AU6", "12AX7")),
           0.1: (("38A3", "UY41"), ("UCL83", "50BM8", "45B5", "UBL21"), ("UCH81", "UCH41", "UF41", "UAF41", "19BX6"))}
OHM_PER_VOLT = (0.05, 0.6)


class Rated(NamedTuple):
    """A capacitor section: its node, its volts."""

    node: int
    volts: float


class Heater(NamedTuple):
    """A tube or lamp on its winding or string."""

    ref: str
    volts: float
    amps: float
    negative_v: float | None = None
    positive_v: float | None = None
    within: float = 0.10  # of its volts; the usual published tolerance unless the type has its own


@dataclass
class Drawn:
    """One unit: its two files, and the numbers behind them."""

    number: int
    toml: str = ""
    parts: str = ""
    circuit: Circuit | None = None
    rectifier: str = ""
    limits: dict[str, Any] = field(default_factory=dict)
    slow: bool = False
    today: float = 1.0
    high: float = 1.0
    low: float = 1.0
    design_v: float = 0.0
    winding_a: float | None = None
    capacitors: dict[str, Rated] = field(default_factory=dict)
    windings: dict[str, tuple[float, float, list[Heater]]] = field(default_factory=dict)
    string: tuple[float, list[Heater], float] | None = None

    def write(self, folder: Path) -> Path:
        folder.mkdir(parents=True, exist_ok=True)
        (folder / "unit.toml").write_text(self.toml, encoding="utf-8")
        (folder / "parts.csv").write_text("ref,marking,role,at,measured,note\n" + self.parts, encoding="utf-8")
        return folder


class Tables:
    """The built tables a drawing needs."""

    def __init__(self, built: Path):
        self.built, self.db = built, duckdb.connect()
        self.diodes = {row["type"]: row for row in self.rows("diodes", "drop_v > 0 and drop_at_a > 0")}
        self.regions = self.rows("regions", "high_v > 0 and low_v > 0 order by region")

    def rows(self, table: str, where: str = "true") -> list[dict[str, Any]]:
        made = self.db.execute(f"select * from read_parquet('{self.built / table}.parquet') where {where}")
        names = [d[0] for d in made.description]
        return [dict(zip(names, row, strict=True)) for row in made.fetchall()]

    @cached_property
    def rectifiers(self) -> dict[str, dict[str, Any]]:
        """Tube rectifiers of known drop, peak and inverse limits; heater and rating corners with them."""
        known = self.rows("rectifiers", "kind = 'tube' and drop_v > 0 and drop_at_a > 0 and plate_peak_max_a > 0 "
                                        "and piv_max_v between 1 and 3000 order by type")
        tubes = {row["type"]: row for row in self.rows("tubes")}
        found = {row["type"]: tubes[row["type"]] | row for row in known if row["type"] in tubes}
        for row in self.rows("rectifier_ratings", "dc_a > 0 order by ac_v"):
            if row["type"] in found:
                found[row["type"]].setdefault(row["input"], []).append((row["ac_v"], row["dc_a"]))
        return found

    @cached_property
    def heaters(self) -> dict[str, dict[str, Any]]:
        """Tube → heater volts, amps and heater-cathode limits."""
        return {row["type"]: row for row in self.rows("tubes", "heater_v > 0 and heater_a > 0")}

    def heater(self, ref: str, type_: str, volts: float = 0.0, amps: float = 0.0) -> Heater:
        """The arrangement of the type's heater for these volts, or for this string current."""
        row = self.heaters[type_]
        known = [(row["heater_v"], row["heater_a"])]
        known += [(r["heater_v"], r["heater_a"]) for r in self.rows("heater_options", f"type = '{type_}'")
                  if r["arrangement"] != "lamp tap" and r["heater_a"]]
        v, a = min(known, key=lambda x: abs(x[0] - volts) if volts else abs(x[1] - amps))
        return Heater(ref, v, a, row["heater_cathode_negative_max_v"], row["heater_cathode_positive_max_v"],
                      (row["heater_tolerance_pct"] or 10.0) / 100)

    def typical(self, type_: str, about_v: float) -> float:
        """k of k v^1.5 by the stated rule: the published single-tube point nearest to the volts, all sections."""
        best: dict[str, dict[str, Any]] = {}
        for row in self.rows("operating_points", f"type = '{type_}' and plate_a > 0 and coalesce(tube_count, 1) < 2 "
                             "and connected is null and point = 1"):
            held = best.get(row["section"])
            if held is None or abs(row["plate_v"] - about_v) < abs(held["plate_v"] - about_v):
                best[row["section"]] = row
        twin = 2 if "each" in best else 1
        return sum(twin * (r["plate_a"] + (r["screen_a"] or 0.0)) / r["plate_v"] ** 1.5 for r in best.values())


def draw(seed: int, number: int, tables: Tables) -> Drawn:
    """Unit `number` of this seed."""
    return _Drawing(np.random.default_rng([seed, number]), number, tables).unit()


class _Drawing:
    """One drawing in progress: the dice, and the lines of the two files."""

    def __init__(self, rng: np.random.Generator, number: int, tables: Tables):
        self.rng, self.tables = rng, tables
        self.made = Drawn(number)
        self.toml: list[str] = []
        self.parts: list[str] = []
        self.tubes: list[str] = []

    def between(self, low: float, high: float) -> float:
        return float(self.rng.uniform(low, high))

    def log(self, low: float, high: float) -> float:
        return math.exp(self.between(math.log(low), math.log(high)))

    def one(self, of: Any) -> Any:
        return of[int(self.rng.integers(len(of)))]

    def chance(self, p: float) -> bool:
        return bool(self.rng.random() < p)

    def part(self, ref: str, marking: str, role: str = "", at: str = "", measured: str = "") -> None:
        self.parts.append(f"{ref},{marking},{role},{at},{measured},")

    def unit(self) -> Drawn:
        kind = self.one(("tube",) * 10 + ("silicon",) * 4 + ("line",) * 3 + ("doubler",) * 3)
        self._mains(line=kind == "line")
        self._rectifier(kind)
        self._filter()
        self._heaters()
        self.made.toml, self.made.parts = "\n".join(self.toml) + "\n", "\n".join(self.parts) + "\n"
        return self.made

    def _mains(self, line: bool) -> None:
        region = self.one(self.tables.regions)
        nominal, high = region["nominal_v"], region["high_v"]
        today = round(min(max(nominal * self.between(0.97, 1.04), region["low_v"]), high), 1)
        design = nominal if self.chance(0.4) or line else round(nominal * self.between(0.93, 1.03))
        self.toml += [f'name = "Drawn {self.made.number}"', f"mains_v = {today:g}",
                      f"mains_hz = {region['frequency_hz']:g}", f"design_mains_v = {design:g}"]
        if self.chance(0.3):
            high = round(today * self.between(1.0, 1.06), 1)
            self.toml.append(f"mains_high_v = {high:g}")
        self.hertz, self.nominal = region["frequency_hz"], nominal
        self.made.design_v, self.made.today, self.made.high = design, today / design, max(high, today) / design
        bands = [r for r in self.tables.regions if abs(r["frequency_hz"] - region["frequency_hz"]) < 2
                 and r["low_v"] <= today <= r["high_v"]]  # of the widest band that holds today's volts, as for the highest
        widest = max(r["high_v"] for r in bands)
        self.made.low = min(max(r["low_v"] for r in bands if r["high_v"] == widest), today) / design

    def _rectifier(self, kind: str) -> None:
        known, self.choke_input = self.tables.rectifiers, False
        if kind == "tube":
            self.row = self.one([r for r in known.values() if r["connection"] in ("full-wave", "half-wave")
                                 and r["heater_v"] and r["heater_v"] < 20 and r["ac_plate_max_v"]])
            self.kind = self.row["connection"]
            self.choke_input = self.kind == "full-wave" and "choke" in self.row and self.chance(0.2)
        elif kind == "doubler":
            self.kind = self.one(("doubler", "doubler", "half-wave doubler"))
            self.row = self.one([r for r in known.values() if r["connection"] == "two half-wave"])
            if self.chance(0.4):
                self.row = self.tables.diodes[self.one(SILICON)]
        elif kind == "silicon":
            self.kind = self.one(("full-wave", "bridge", "bridge", "half-wave"))
            self.row = self.tables.diodes[self.one(SILICON)]
            self.choke_input = self.kind != "half-wave" and self.chance(0.2)
        else:
            self._line_rectifier()
        self.line = kind == "line"
        self.silicon = "forward_max_a" in self.row
        self._winding()

    def _line_rectifier(self) -> None:
        self.kind = "half-wave"
        self.amps = 0.15 if self.nominal < 150 else 0.1
        wanted = [self.tables.rectifiers[t] for t in STRINGS[self.amps][0] if t in self.tables.rectifiers]
        self.row = self.one(wanted) if wanted and self.chance(0.7) else self.tables.diodes["1N4007"]

    def _winding(self) -> None:
        row, inputs = self.row, "choke" if self.choke_input else "capacitor"
        if self.line or (self.kind.endswith("doubler") and self.chance(0.8)):
            self.volts = self.made.design_v if self.line or self.nominal < 150 else 117.0
            if self.kind.endswith("doubler"):
                self.volts *= self.between(0.9, 1.6)
        elif self.silicon:
            per = 1 if self.kind == "bridge" else 2
            self.volts = row["piv_max_v"] / (per * math.sqrt(2) * self.made.high) * self.between(0.35, 1.05)
            self.volts = min(self.volts, 500.0)
        else:
            top = max([v for v, _ in row.get(inputs, [])] + [row["ac_plate_max_v"] or 0.0])
            piv = row["piv_max_v"] / (2 * math.sqrt(2) * self.made.high)
            self.volts = min(top or 500.0, piv * 1.1) * self.between(0.55, 1.06)  # some have inverse volts alone
        self.volts = round(self.volts)
        self.own_ohm = round(self.volts * self.log(*OHM_PER_VOLT)) if not self.line else 3.0
        through_transformer = self.chance(0.6) and not self.line
        self.primary_ohm = round(self.made.design_v * self.log(0.005, 0.08), 1) if through_transformer else 0.0
        self.added_ohm = round(self.log(10, 200)) if self.chance(0.3) or self.line else 0.0
        self.source = self.own_ohm + self.primary_ohm * (self.volts / self.made.design_v) ** 2 + self.added_ohm

    def _load_a(self) -> float:
        row, inputs = self.row, "choke" if self.choke_input else "capacitor"
        if self.silicon:
            return self.log(0.03, 0.5)
        corners = row.get(inputs) or [(self.volts, row["dc_output_max_a"] or row["drop_at_a"])]
        full = float(np.interp(self.volts, *zip(*corners, strict=True)))
        share = self.one((self.between(0.3, 1.1), self.between(0.85, 1.05)))
        return full * share * (0.6 if self.kind.endswith("doubler") else 1.0)

    def _filter(self) -> None:
        count = int(self.rng.integers(1, 4))
        total = self._load_a()
        stacked = 2 if self.kind.endswith("doubler") else 1
        crest = stacked * math.sqrt(2) * self.volts
        about = 0.9 * crest  # where the stated rule looks for a tube's published point
        level = about * (0.7 if self.choke_input else 0.9)
        shares = self.rng.dirichlet([4.0, 1.5, 0.8][:count]) * total
        parents = [None, 0, int(self.rng.integers(0, 2))][:count]
        stages, self.node_lines = [], []
        for i in range(count):
            through = sum(shares[j] for j in range(count) if j == i or parents[j] == i)
            series, henry, ohm = self._series(i, parents[i], through, level)
            load, words = self._load(i, float(shares[i]), level, about)
            uf = self._first_uf() if i == 0 else float(self.one(TRADE_UF[1:12]))
            stages.append(Stage(parents[i], ohm, henry, uf * 1e-6, **load))
            fed = [f'from = "B{parents[i] + 1}"'] if i else []
            self.node_lines.append([f'id = "B{i + 1}"', *fed, *series, *words])
        self._capacitors(stages, crest)
        drop = (self.row["drop_v"], self.row["drop_at_a"])
        self.made.circuit = Circuit(self.kind, self.choke_input, self.volts, self.hertz, self.source, self.silicon,
                                    drop, tuple(stages))
        self._supply_lines(total)

    def _series(self, i: int, parent: int | None, through: float, level: float) -> tuple[list[str], float, float]:
        if i == 0 and not self.choke_input:
            return [], 0.0, 0.0
        if i == 0 or self.chance(0.5):
            henry = self.one((3, 5, 8, 10, 15))
            ohm = round(henry * self.log(15, 45))
            self.part(f"L{i + 1}", f"{henry} H {ohm} ohm", "choke", f"B{i + 1}")
            return [f'through = "L{i + 1}"'], float(henry), float(ohm)
        ohm = max(round(self.between(0.02, 0.15) * level / through, -2), 100)
        self.part(f"R{i + 1}", f"{ohm:g} ohm 5W", "dropping", f"B{i + 1}")
        return [f'through = "R{i + 1}"'], 0.0, float(ohm)

    def _load(self, i: int, amps: float, level: float, about: float) -> tuple[dict[str, Any], list[str]]:
        kind = self.one(("load_a", "load_a", "load_ohm", "measured", "typical"))
        if kind == "load_ohm":
            ohm = round(level / amps, -1)
            return {"load_ohm": ohm}, [f"load_ohm = {ohm:g}"]
        if kind == "load_a" or self.line:
            amps = round(amps, 4) or 0.0005
            return {"load_a": amps}, [f"load_a = {amps:g}"]
        return self._tube_load(i, amps, about, measured=kind == "measured")

    def _tube_load(self, i: int, amps: float, about: float, measured: bool) -> tuple[dict[str, Any], list[str]]:
        ks = {t: self.tables.typical(t, about) for t in POWER}
        type_ = min(ks, key=lambda t: abs(math.log(ks[t] * about**1.5 / amps)) if ks[t] else math.inf)
        wanted = max(1, min(4, round(amps / (ks[type_] * about**1.5))))
        refs = []
        for n in range(1 if measured else wanted):
            refs.append(f"V{10 * (i + 1) + n}")
            self.tubes.append(f"{refs[-1]},{type_}")
        names = ", ".join(f'"{r}"' for r in refs)
        if not measured:
            return {"load_k": wanted * ks[type_]}, [f"tubes = [{names}]"]
        ohm = round(12.0 / amps, -1) or 10.0
        volts = round(amps * ohm, 1)
        self.part(f"R{10 * (i + 1)}", f"{ohm:g} ohm 5W", "cathode", refs[0])
        self.tubes[-1] += f",cathode {volts:g} V"
        return {"load_a": volts / ohm, "read": True}, [f"tubes = [{names}]"]

    def _first_uf(self) -> float:
        most = self.row.get("input_capacitor_max_uf") or 30.0
        wanted = most * self.log(0.25, 1.6)
        return float(min(TRADE_UF, key=lambda uf: abs(math.log(uf / wanted))))

    def _capacitors(self, stages: list[Stage], crest: float) -> None:
        for i, stage in enumerate(stages):
            uf, top = stage.farad * 1e6, crest * self.made.high * (0.5 if i == 0 and self.kind == "doubler" else 1)
            wanted = top * self.between(0.78, 1.2)
            volts = min(TRADE_V, key=lambda v: abs(v - wanted))
            refs = self._capacitor(i, uf, volts, stages)
            self.node_lines[i].append("capacitors = [" + ", ".join(f'"{r}"' for r in refs) + "]")
            self.made.capacitors |= {ref: Rated(i, volts) for ref in refs}

    def _capacitor(self, i: int, uf: float, volts: float, stages: list[Stage]) -> list[str]:
        role = "reservoir" if i == 0 else "smoothing"
        if i == 0 and self.kind == "doubler":
            self.part("C9", f"{uf:g} µF {volts:g} V", role, "B1")
            self.part("C1", f"{uf:g} µF {volts:g} V", role, "B1")
            return ["C1", "C9"]
        if self.chance(0.2):
            measured = round(uf * self.between(0.85, 1.25), 1)
            self.part(f"C{i + 1}", f"{uf:g} µF {volts:g} V", role, f"B{i + 1}", f"{measured:g} uF")
            stages[i] = stages[i]._replace(farad=measured * 1e-6)
            return [f"C{i + 1}"]
        if self.chance(0.15):
            self.part(f"C{i + 1}", f"{uf:g}-20 µF {volts:g}-50 V", role)
            return [f"C{i + 1}A"]
        self.part(f"C{i + 1}", f"{uf:g} µF {volts:g} V", role, f"B{i + 1}")
        return [f"C{i + 1}"]

    def _supply_lines(self, total: float) -> None:
        self.supply = ["[supply]", 'rectifier = "V1"', f'circuit = "{self.kind}"', f"secondary_v = {self.volts:g}",
                       f"secondary_ohm = {self.own_ohm:g}"]
        self.supply += ['input = "choke"'] if self.choke_input else []
        self.supply += [f"primary_ohm = {self.primary_ohm:g}"] if self.primary_ohm else []
        self.supply += [f"added_ohm = {self.added_ohm:g}"] if self.added_ohm else []
        if self.chance(0.6) and not self.line:
            self.made.winding_a = round(total * self.between(0.85, 1.3), 3)
            self.supply.append(f"secondary_a = {self.made.winding_a:g}")
        for lines in self.node_lines:
            self.supply += ["[[supply.node]]", *lines]
        self.made.rectifier, self.made.limits = self.row["type"], dict(self.row)
        self.made.slow = not self.silicon and self.row.get("heating") == "heater"

    def _heaters(self) -> None:
        (self._string if self.line else self._windings)()
        self.toml += self.supply

    def _windings(self) -> None:
        mine = [self.tables.heater(line.split(",")[0], line.split(",")[1], volts=6.3) for line in self.tubes]
        for line in self.tubes:
            ref, type_, *measured = line.split(",")
            self.part(ref, type_, "", "H1", measured[0] if measured else "")
        for n in range(int(self.rng.integers(0, 3))):
            type_ = self.one(("12AX7", "6AQ5", "6SL7GT", "6BQ5"))
            self.part(f"V{2 + n}", type_, "", "H1")
            mine.append(self.tables.heater(f"V{2 + n}", type_, volts=6.3))
        if self.chance(0.3):
            self.part("PL1", "#47", "lamp", "H1")
            mine.append(Heater("PL1", 6.3, 0.15))
        if self.silicon:
            self.part("V1", self.row["type"], "rectifier")
        else:
            own = self.tables.heater("V1", self.row["type"], volts=6.3)
            shared = own.volts == 6.3 and bool(mine) and self.chance(0.6)
            if shared:
                mine.append(own)
            else:
                self._winding_of("H2", own.volts, [own])
            self.part("V1", self.row["type"], "rectifier", "H1" if shared else "H2")
        if mine:
            self._winding_of("H1", 6.3, mine)

    def _winding_of(self, name: str, volts: float, heaters: list[Heater]) -> None:
        amps = round(sum(h.amps for h in heaters) * self.between(0.9, 1.5), 2)
        given = round(volts * self.between(0.95, 1.04), 2) if self.chance(0.4) else volts
        self.toml += ["[[winding]]", f'id = "{name}"', f"volts = {given:g}", f"amps = {amps:g}"]
        self.made.windings[name] = (given, amps, heaters)

    def _string(self) -> None:
        _, outputs, others = STRINGS[self.amps]
        wanted = [self.one(outputs), *(self.one(others) for _ in range(int(self.rng.integers(2, 5))))]
        types = [t for t in wanted if t in self.tables.heaters]
        members = [self.tables.heater(f"V{i + 2}", t, amps=self.amps) for i, t in enumerate(types)]
        for heater, type_ in zip(members, types, strict=True):
            self.part(heater.ref, type_, "", "S1")
        if self.chance(0.5):
            members = [members[i] for i in self.rng.permutation(len(members))]
        if self.silicon:
            self.part("V1", self.row["type"], "rectifier")
        else:
            own = self.tables.heater("V1", self.row["type"], amps=self.amps)
            self.part("V1", self.row["type"], "rectifier", "S1")
            members = [own, *members]
        ohm = self._dropper(members)
        order = ", ".join(f'"{h.ref}"' for h in members)
        self.toml += ["[[string]]", 'id = "S1"', f"amps = {self.amps:g}", f"order = [{order}]"]
        self.toml += ['dropper = "R90"'] if ohm else []
        self.made.string = (self.amps, members, ohm)

    def _dropper(self, members: list[Heater]) -> float:
        if (rest := self.made.design_v - sum(h.volts for h in members)) < 0.04 * self.made.design_v:
            return 0.0
        ohm = max(round(rest / self.amps * self.between(0.75, 1.1), -1), 10.0)
        self.part("R90", f"{ohm:g} ohm 25W", "dropper")
        return ohm
