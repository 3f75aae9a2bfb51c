"""Random DC circuits of tubes for the solver, and the same circuits as netlists for ngspice."""

from __future__ import annotations

import numpy as np

from pipeline.electrics.circuit import Draw, Regulator, Resistor, Source, Tube
from pipeline.electrics.stages import KNEE, TRIODE_KNEE_V, Law, law_of_point

# Made from points of well-known types (values recalled): what matters here is the spread, from 12AX7 to 6AS7G.
LAWS = {
    "12AX7": law_of_point(250, -2, 1.2e-3, 1.6e-3, mu=100),
    "12AU7": law_of_point(250, -8.5, 10.5e-3, 2.2e-3, mu=17),
    "6AS7G": law_of_point(135, -31, 0.125, 7e-3, mu=2),
    "EF86": law_of_point(250, -2.2, 3e-3, 2.2e-3, screen_v=140, screen_a=0.6e-3, mu_screen=38),
    "EL84": law_of_point(250, -7.3, 0.048, 11.3e-3, screen_v=250, screen_a=5.5e-3, mu_screen=19),
    "6L6": law_of_point(250, -14, 0.072, 6e-3, screen_v=250, screen_a=5e-3),
}
TRIODES, PENTODES = ("12AX7", "12AU7", "6AS7G"), ("EF86", "EL84", "6L6")


class Wiring:
    """A circuit that is being drawn: elements, and the next free node."""

    def __init__(self) -> None:
        self.nodes = 1
        self.elements: dict[str, list] = {
            "resistors": [], "tubes": [], "draws": [], "sources": [], "regulators": []
        }

    def node(self) -> int:
        self.nodes += 1
        return self.nodes - 1

    def add(self, kind: str, element) -> None:
        self.elements[kind].append(element)

    def resistor(self, a: int, b: int, ohms: float) -> None:
        self.add("resistors", Resistor(a, b, ohms))


def _log(rng, low: float, high: float) -> float:
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def _cathode(wiring: Wiring, rng) -> int:
    if rng.random() < 0.2:
        return 0
    node = wiring.node()
    wiring.resistor(node, 0, _log(rng, 30, 1e5))
    return node


def _grid(wiring: Wiring, rng, negative: int) -> int:
    kind = rng.integers(4)
    if kind == 0 and negative:
        node = wiring.node()
        wiring.resistor(negative, node, _log(rng, 1e4, 1e6))
        if rng.random() < 0.5:
            wiring.resistor(node, 0, _log(rng, 1e4, 1e6))
        return node
    return 0


def _tube(rng, wiring: Wiring, names, plate, screen, grid, cathode) -> None:
    law = LAWS[names[rng.integers(len(names))]]
    fixed = _log(rng, 1e-4, 3e-2) if rng.random() < 0.05 else np.nan
    grid_k = 1e-3 if rng.random() < 0.2 else 0.0
    tube = Tube(plate, screen, grid, cathode, law, int(rng.integers(1, 3)), rng.uniform(0.7, 1.3), fixed, grid_k)
    wiring.add("tubes", tube)


def _load(wiring: Wiring, rng, feed: int, greatest: float = 1e6) -> int:
    if rng.random() < 0.1:
        return feed
    node = wiring.node()
    wiring.resistor(feed, node, 0.0 if rng.random() < 0.1 else _log(rng, 30, greatest))
    return node


def _stage(wiring: Wiring, rng, feeds: list[int], negative: int) -> None:
    feed = feeds[rng.integers(len(feeds))]
    kind = rng.choice(["triode", "pentode", "connected", "follower", "pair", "shared"])
    grid, cathode = _grid(wiring, rng, negative), _cathode(wiring, rng)
    if kind in ("triode", "follower"):
        plate = _load(wiring, rng, feed)
        _tube(rng, wiring, TRIODES, plate, None, grid, cathode)
        if kind == "follower":
            below = wiring.node()
            wiring.resistor(below, 0, _log(rng, 1e3, 2e5))
            _tube(rng, wiring, TRIODES, _load(wiring, rng, feed, 1e5), None, plate, below)
    elif kind == "pentode":
        _tube(rng, wiring, PENTODES, _load(wiring, rng, feed), _load(wiring, rng, feed), grid, cathode)
    elif kind == "connected":
        plate = _load(wiring, rng, feed, 1e5)
        _tube(rng, wiring, PENTODES, plate, plate, grid, cathode)
    elif kind == "pair":
        first = _load(wiring, rng, feed)
        _tube(rng, wiring, TRIODES, first, None, grid, cathode)
        tail = wiring.node()
        wiring.resistor(tail, negative or 0, _log(rng, 3e3, 1e5))
        held = first if rng.random() < 0.5 else 0
        for _ in range(2):
            _tube(rng, wiring, TRIODES[:2], _load(wiring, rng, feed), None, held, tail)
    else:
        _tube(rng, wiring, PENTODES, _load(wiring, rng, feed, 3e3), _load(wiring, rng, feed, 1e5), grid, cathode)
        _tube(rng, wiring, TRIODES, _load(wiring, rng, feed), None, _grid(wiring, rng, negative), cathode)


def random_circuit(seed: int) -> Wiring:
    """A supply of one to three nodes, perhaps a negative one, regulators and draws, and one to four stages."""
    rng, wiring = np.random.default_rng(seed), Wiring()
    volts = rng.uniform(60, 500)
    feeds = [wiring.node()]
    wiring.add("sources", Source(feeds[0], volts, _log(rng, 1, 2000), bool(rng.random() < 0.5)))
    wiring.resistor(feeds[0], 0, _log(rng, 1e4, 1e6))
    for _ in range(rng.integers(0, 3)):
        feeds.append(wiring.node())
        wiring.resistor(feeds[-2], feeds[-1], _log(rng, 50, 5e4))
        if rng.random() < 0.2:
            wiring.add("regulators", Regulator(feeds[-1], 0, rng.uniform(70, 150), _log(rng, 20, 300)))
        if rng.random() < 0.3:
            wiring.add("draws", Draw(feeds[-1], _log(rng, 1e-4, 2e-2), 0.0, _log(rng, 1e4, 1e6)))
        if rng.random() < 0.2:
            wiring.add("draws", Draw(feeds[-1], 0.0, 0.02 / volts**1.5))
    negative = 0
    if rng.random() < 0.5:
        negative = wiring.node()
        wiring.add("sources", Source(negative, -rng.uniform(5, 100), _log(rng, 10, 1e4), True))
        wiring.add("draws", Draw(negative, -_log(rng, 1e-4, 2e-3)))
    for _ in range(rng.integers(1, 5)):
        _stage(wiring, rng, feeds, negative)
    return wiring


def _volts(a: int, b: int = 0) -> str:
    """The volts between two nodes, in ngspice's words."""
    if a == b:
        return "0"
    return f"V({_node(a)})" if b == 0 else f"V({_node(a)},{_node(b)})"


def _node(number: int) -> str:
    return f"n{number}" if number else "0"


def netlist(wiring: Wiring) -> str:
    """The circuit for ngspice, node i as n<i>."""
    lines = []
    for i, r in enumerate(wiring.elements["resistors"]):
        lines.append(f"R{i} {_node(r.a)} {_node(r.b)} {max(r.ohms, 1e-3):.9g}")
    for i, s in enumerate(wiring.elements["sources"]):
        turn = 1 if s.volts >= 0 else -1
        current = f"({_volts(s.node)}-({s.volts:.12g}))/{s.ohms:.12g}"
        if s.one_way:
            current = f"{-turn}*uramp({-turn}*{current})"
        lines.append(f"Bs{i} {_node(s.node)} 0 I={current}")
    for i, d in enumerate(wiring.elements["draws"]):
        turn, volts = -1 if d.amps < 0 else 1, _volts(d.node)
        current = f"{volts}/{d.ohms:.9g}+" if np.isfinite(d.ohms) else ""
        current += f"{d.amps:.9g}*min({turn}*{volts},1)+{d.k:.9g}*pow(uramp({volts}),1.5)"
        lines.append(f"Bd{i} {_node(d.node)} 0 I={current}")
    for i, g in enumerate(wiring.elements["regulators"]):
        lines.append(f"Bg{i} {_node(g.a)} {_node(g.b)} I=uramp({_volts(g.a, g.b)}-{g.volts:.9g})/{g.ohms:.9g}")
    for i, tube in enumerate(wiring.elements["tubes"]):
        lines += _tube_lines(i, tube)
    return "\n".join(lines) + "\n"


def _tube_lines(i: int, tube: Tube) -> list[str]:
    law: Law = tube.law
    screen = tube.plate if tube.screen is None else tube.screen
    plate_v, screen_v, grid_v = (_volts(pin, tube.cathode) for pin in (tube.plate, screen, tube.grid))
    cathode = _node(tube.cathode)
    drive = f"{grid_v}+{law.offset_v:.12g}"
    if np.isfinite(law.mu):
        drive += f"+{plate_v}/{law.mu:.12g}"
    triode = not np.isfinite(law.mu_screen)
    if not triode:
        drive += f"+{screen_v}/{law.mu_screen:.12g}"
    amps = f"{law.perveance * tube.strength:.12g}*pow(uramp({drive}),1.5)"
    if np.isfinite(tube.fixed_a):
        amps = f"{tube.fixed_a:.12g}"
    knee = f"{TRIODE_KNEE_V}" if triode else f"({KNEE}*max({screen_v},1))"
    part = f"{1 - law.screen_share:.12g}*(1-exp(-uramp({plate_v})/{knee}))"
    lines = [f"Bp{i} {_node(tube.plate)} {cathode} I={tube.count}*{amps}*{part}"]
    if not triode:
        lines.append(f"Bq{i} {_node(screen)} {cathode} I={tube.count}*{amps}*(1-{part})")
    if tube.grid_perveance:
        current = f"{tube.count}*{tube.grid_perveance:.9g}*pow(uramp({grid_v}),1.5)"
        lines.append(f"Bc{i} {_node(tube.grid)} {cathode} I={current}")
    return lines
