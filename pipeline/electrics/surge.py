"""Volts that each node of a filter swings up to when a cold supply is switched on at once, as with silicon."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from .arguments import at_least_zero, positive
from .laws import Network
from .network import CIRCUITS, Drive, build, circuit_named
from .sections import Section, choke_ahead, section_numbers, section_table
from .steady import steady_states

_CYCLE = 2 * np.pi  # the network's time is the mains angle
_STEP = _CYCLE / 300
_BLOCK = 128  # steps looked ahead at once; a power of two
_SHORTEST, _LONGEST = 2 * _CYCLE, 80 * _CYCLE
_SWINGS = 4  # half swings after which none comes that is higher
_RISE = 1e-3  # share by which nothing rises any more within half a swing
_LEAST_F = 1e-9  # of a node without capacitor
_LEAK_S = 1e-7  # ahead of an input choke: takes its current while no diode conducts


def switch_on_surge(
    circuit: str,
    v_rms: float,
    frequency_hz: float,
    source_ohm: float,
    sections: Sequence[Section],
    *,
    input: str = "capacitor",
    threshold_v: float = 0.0,
) -> np.ndarray:
    """Greatest volts of each node after switching on with every capacitor empty and no tube drawing.

    Parameters
    ----------
    circuit : str
        As for `capacitor_input`; v_rms, frequency_hz, source_ohm, threshold_v likewise, single numbers.
    sections : sequence of Section
        As for `supply`, single numbers; only `load_ohm` of the loads is taken, for cold tubes draw nothing.
    input : {'capacitor', 'choke'}
        As for `supply`.

    Returns
    -------
    ndarray, (n,)
        Volts; with a choke they pass the crest, because the choke goes on driving current into the empty capacitor.
        The first of a doubler stands across both its capacitors.

    Raises
    ------
    ValueError
        As `supply`; a source without any resistance.

    Notes
    -----
    Switched on at the crests and at the zero crossings, the worst of them. Between two turns of a diode the network
    is linear and is followed exactly, its diodes looked at 300 times a cycle; a diode is a switch with threshold and
    the source's resistance. Chokes are linear and the winding has no leakage. Not for rectifiers that warm up slowly
    against the filter's own swing: their emission rises over a second or more and the filter follows it.

    References
    ----------
    Derived: Kirchhoff's laws; compared with ngspice in the tests.
    """
    network = _network(circuit, v_rms, frequency_hz, source_ohm, sections, input, threshold_v)
    return _greatest(circuit, network, network.port)


def reservoir_surge(
    circuit: str,
    v_rms: float,
    frequency_hz: float,
    source_ohm: float,
    sections: Sequence[Section],
    *,
    threshold_v: float = 0.0,
) -> np.ndarray:
    """Greatest volts across each capacitor of the reservoir after switching on, as `switch_on_surge`.

    Parameters
    ----------
    circuit, v_rms, frequency_hz, source_ohm, sections, threshold_v
        As for `switch_on_surge`, with capacitor input.

    Returns
    -------
    ndarray, (1,) or (2,)
        Volts across the one capacitor; across each of the two of a doubler (of a half-wave doubler: the series
        capacitor, then the output's).

    Raises
    ------
    ValueError
        As `switch_on_surge`.
    """
    network = _network(circuit, v_rms, frequency_hz, source_ohm, sections, "capacitor", threshold_v)
    found = _greatest(circuit, network, np.eye(len(network.mass))[_reservoir(circuit, network)])
    return np.full(2, found.max()) if circuit == "doubler" else found  # which is charged first is chance


def _reservoir(circuit: str, network: Network) -> slice:
    """Where the volts of the first capacitors stand among the states."""
    end = len(network.mass) - (len(network.port) - 1)
    return slice(end - CIRCUITS[circuit].stacked, end)


def _network(
    circuit: str,
    v_rms: float,
    frequency_hz: float,
    source_ohm: float,
    sections: Sequence[Section],
    input: str,
    threshold_v: float,
) -> Network:
    """The supply without its tubes, a batch of one."""
    circuit_named(circuit)
    choke_input = choke_ahead(input, circuit)
    drive = Drive(
        np.sqrt(2) * at_least_zero("v_rms", v_rms).reshape(1),
        2 * np.pi * positive("frequency_hz", frequency_hz).reshape(1),
        positive("source_ohm", source_ohm).reshape(1), np.zeros(1), np.zeros(1),
        at_least_zero("threshold_v", threshold_v).reshape(1),
    )  # fmt: skip
    cold = [part._replace(load_a=0.0, load_k=0.0) for part in sections]
    numbers = section_numbers(cold, choke_input)
    table = section_table(cold, {name: value.reshape(1) for name, value in numbers.items()})
    table = table._replace(capacitance_f=np.maximum(table.capacitance_f, _LEAST_F))
    return build(circuit, drive, table, choke_input)


def _at_rest(circuit: str, network: Network, watched: np.ndarray) -> np.ndarray:
    """Greatest value (w,) of each of `watched` (w, m) when all swings are over; zero if that is not found."""
    volts = max(float(network.peak[0] - network.threshold[0]), 0.0)
    if network.load_s.any() and volts:
        found = [(watched @ steady.states[..., 0]).max(axis=1) for _, steady in steady_states(network)]
        return found[0] if found else np.zeros(len(watched))
    first = _reservoir(circuit, network)
    state = np.zeros(len(network.mass))
    state[first.start :] = CIRCUITS[circuit].stacked * volts
    state[first] = volts * (np.arange(CIRCUITS[circuit].stacked) + 1) if circuit == "half-wave doubler" else volts
    return watched @ state


def _both_halves(circuit: str, network: Network) -> Network:
    """The network over a whole cycle: that of the steady state may have the path of one half cycle only."""
    if CIRCUITS[circuit].halves == 2 or len(network.sign) == 2:
        return network
    inject, sense = (np.repeat(rows, 2, axis=0) for rows in (network.inject, network.sense))
    return network._replace(sign=np.array([1.0, -1.0]), inject=inject, sense=sense)


class _Mode(NamedTuple):
    """The network while certain of its paths conduct, followed over a block of steps.

    A state is that of the network (m), the cosine and sine of the mains angle, and one.
    """

    powers: np.ndarray  # (_BLOCK, m + 3, m + 3): the state after 1, 2, ... steps
    ahead: np.ndarray  # (_BLOCK (w + J), m + 3): what is watched and how far each path is from turning, after each
    drives: np.ndarray  # (J, m + 3): volts that drive each path
    on: np.ndarray  # (J,)
    swing: float  # angle of the slowest half swing; zero where nothing swings


def _greatest(circuit: str, network: Network, watched: np.ndarray) -> np.ndarray:
    """Greatest value (w,) of each of `watched` (w, m), over the instants of switching, and long after."""
    rest, network = _at_rest(circuit, network, watched), _both_halves(circuit, network)
    modes = {on: _mode(network, watched, np.array(on, bool)) for on in np.ndindex((2,) * len(network.sign))}
    return np.max([rest, *(_run(modes, quarter * np.pi / 2, rest) for quarter in range(2 * network.halves))], axis=0)


def _run(modes: dict[tuple[int, ...], _Mode], angle: float, rest: np.ndarray) -> np.ndarray:
    """Greatest value (w,) after switching on at that angle.

    Followed until none rises any more; or, once the first swings are over, above `rest`, to which it creeps anyway.
    """
    off, watched = modes[min(modes)], len(rest)
    state = np.zeros(off.drives.shape[1])
    state[-3:] = np.cos(angle), np.sin(angle), 1.0
    mode = modes[tuple((off.drives @ state > 0).astype(int).tolist())]
    swing = max(_SHORTEST, *(one.swing for one in modes.values()))
    most, window = np.zeros(watched), int(swing / _STEP)
    for count in range(max(int(_LONGEST / swing), 2)):
        done, kept = 0, [most[None]]
        while done < window:
            seen = (mode.ahead @ state).reshape(_BLOCK, -1)
            turned = seen[:, watched:] < 0
            row, path = divmod(int(turned.argmax()), turned.shape[1])
            if not turned[row, path]:
                row = _BLOCK - 1
            kept.append(seen[: row + 1, :watched])
            state = mode.powers[row] @ state
            mode = modes[tuple((turned[row] != mode.on).astype(int).tolist())]
            done += row + 1
        before, most = most, np.concatenate(kept).max(axis=0)
        if np.all((most - before <= _RISE * most) | ((most <= rest) & (count >= _SWINGS))):
            break
    return most


def _mode(network: Network, watched: np.ndarray, on: np.ndarray) -> _Mode:
    """The mode in which the paths `on` (J,) conduct."""
    rate, drives, whole = _equations(network, on)
    size = len(rate)
    full = np.zeros((size + 3, size + 3))
    full[:size] = rate
    full[size, size + 1], full[size + 1, size] = -1.0, 1.0
    powers = _exponential(_STEP * full)[None]
    while len(powers) < _BLOCK:
        powers = np.concatenate([powers, powers @ powers[-1]])
    margin = np.where(on, 1.0, -1.0)[:, None] * drives
    read = np.concatenate([np.pad(watched, ((0, 0), (0, 3))) @ whole, margin])
    pace = abs(np.linalg.eigvals(rate[:, :size]).imag)
    swing = float(np.pi / pace[pace > 1e-9].min()) if np.any(pace > 1e-9) else 0.0
    return _Mode(powers, (read @ powers).reshape(-1, size + 3), drives, on, swing)


def _equations(network: Network, on: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Slope (m, m + 3) of the states by the mains angle, the paths' drives (J, m + 3), and the whole state.

    What has neither capacitance nor inductance follows from the rest: `whole` (m + 3, m + 3) fills it in.
    """
    mass, peak = network.mass[:, 0], network.peak[0]
    size = len(mass)
    rate = np.zeros((size, size + 3))
    rate[:, :size] = network.linear[..., 0] - (network.port.T * network.load_s[:, 0]) @ network.port
    rate[:, size] = network.source[:, 0] * peak
    drives = np.zeros((len(on), size + 3))
    drives[:, :size], drives[:, size], drives[:, -1] = network.sense, network.sign * peak, -network.threshold[0]
    rate += (network.inject[on] / network.path_ohm[0]).T @ drives[on]
    whole, still = np.eye(size + 3), np.flatnonzero(mass == 0)
    if still.size:
        rate[still[0], still[0]] -= _LEAK_S
        whole[still] = -np.linalg.solve(rate[np.ix_(still, still)], rate[still])
        whole[:, still] = 0.0
    moving = np.divide(1.0, mass, out=np.zeros(size), where=mass > 0)
    return moving[:, None] * (rate @ whole), drives @ whole, whole


def _exponential(matrix: np.ndarray) -> np.ndarray:
    """Exponential of a matrix (m, m): twelve terms of the series, after halving it until they suffice."""
    size = np.abs(matrix).sum(axis=1).max()
    halvings = max(int(np.ceil(np.log2(max(size, 1e-300)))) + 1, 0)
    part = matrix / 2.0**halvings
    total = term = np.eye(len(matrix))
    for k in range(1, 13):
        term = term @ part / k
        total = total + term
    for _ in range(halvings):
        total = total @ total
    return total
