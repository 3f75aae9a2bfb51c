"""Volts that each node of a filter swings up to when a cold supply is switched on at once, as with silicon."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from .network import circuit_named
from .sections import Section

_STEP_S = 4e-5
_SWINGS = 3.0
_LONGEST_S = 1.5


def switch_on_surge(
    circuit: str,
    v_rms: float,
    frequency_hz: float,
    source_ohm: float,
    sections: Sequence[Section],
    *,
    threshold_v: float = 0.0,
) -> np.ndarray:
    """Greatest volts of each node after switching on with every capacitor empty and no tube drawing.

    Parameters
    ----------
    circuit : str
        As for `capacitor_input`; v_rms, frequency_hz, source_ohm, threshold_v likewise, single numbers.
    sections : sequence of Section
        As for `supply`, single numbers; only `load_ohm` of the loads is taken, for cold tubes draw nothing.

    Returns
    -------
    ndarray, (n,)
        Volts; with a choke they pass the crest, because the choke goes on driving current into the empty capacitor.

    Raises
    ------
    ValueError
        The circuit's name, or a source without any resistance.

    Notes
    -----
    Switched on at the crest and at the zero crossing, the worse of both. Steps of 40 µs by the trapezoidal
    rule, the diode a switch with threshold and the source's resistance. A doubler is taken as one source of
    twice the volts behind twice the resistance, its two capacitors in series. Chokes are linear and the winding
    has no leakage. Not for rectifiers that warm up slowly against the filter's own swing: their emission rises
    over a second or more and the filter follows it.

    References
    ----------
    Derived: Kirchhoff's laws; compared with ngspice in the tests.
    """
    kind = circuit_named(circuit)
    if source_ohm <= 0:
        raise ValueError("source_ohm: must be above zero")
    crest = kind.stacked * max(np.sqrt(2) * v_rms - kind.in_series * threshold_v, 0.0)
    full_wave = kind.halves == 1
    step_on, step_off, drive = _steps(sections, source_ohm * kind.stacked, kind.stacked)
    count = int(_duration(sections) / _STEP_S)
    angle = 2 * np.pi * frequency_hz * _STEP_S * np.arange(count + 1)
    waves = [np.cos(angle), np.sin(angle)]
    runs = [_run(step_on, step_off, drive, crest * (np.abs(w) if full_wave else w), len(sections)) for w in waves]
    return np.maximum(*runs)


def _one(value: ArrayLike | None) -> float:
    """A section's field as the single number it must be here."""
    return float(np.asarray(value, dtype=float))


def _duration(sections: Sequence[Section]) -> float:
    """Seconds that hold a few swings of the slowest choke with all capacitors, or a few time constants."""
    farad = sum(_one(s.capacitance_f) for s in sections)
    henry = sum(_one(s.series_h) for s in sections)
    ohm = sum(_one(s.series_ohm) for s in sections)
    swing = 2 * np.pi * float(np.sqrt(henry * farad))
    return min(max(_SWINGS * swing, 2 * _SWINGS * ohm * farad, 0.1), _LONGEST_S)


def _steps(sections: Sequence[Section], ohm: float, stacked: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Maps of one step, conducting and blocked, and what the source adds to a conducting one.

    States: node volts, then choke currents.
    """
    chokes = [i for i, s in enumerate(sections) if _one(s.series_h) > 0]
    n, m = len(sections), len(sections) + len(chokes)
    rate = np.zeros((m, m))
    for i, section in enumerate(sections):
        farad = _one(section.capacitance_f) / (stacked if i == 0 else 1)
        farad = max(farad, 1e-9)
        if section.load_ohm is not None:
            rate[i, i] -= 1.0 / (_one(section.load_ohm) * farad)
        if i == 0:
            continue
        parent = i - 1 if section.parent is None else section.parent
        above = _one(sections[parent].capacitance_f) / (stacked if parent == 0 else 1)
        above = max(above, 1e-9)
        if i in chokes:
            k, henry = n + chokes.index(i), _one(section.series_h)
            rate[k, [parent, i, k]] = 1 / henry, -1 / henry, -_one(section.series_ohm) / henry
            rate[i, k] += 1 / farad
            rate[parent, k] -= 1 / above
        else:
            leak = 1 / max(_one(section.series_ohm), 1e-3)
            rate[i, parent] += leak / farad
            rate[i, i] -= leak / farad
            rate[parent, i] += leak / above
            rate[parent, parent] -= leak / above
    first = max(_one(sections[0].capacitance_f) / stacked, 1e-9)
    conducting = rate.copy()
    conducting[0, 0] -= 1 / (ohm * first)
    half, eye = _STEP_S / 2, np.eye(m)
    solve_on = np.linalg.inv(eye - half * conducting)
    drive = solve_on[:, 0] * half / (ohm * first)
    return solve_on @ (eye + half * conducting), np.linalg.solve(eye - half * rate, eye + half * rate), drive


def _run(step_on: np.ndarray, step_off: np.ndarray, drive: np.ndarray, emf: np.ndarray, nodes: int) -> np.ndarray:
    """Greatest volts (nodes,) over the run from empty capacitors."""
    state = np.zeros(len(step_on))
    most = np.zeros(len(step_on))
    pairs = (emf[1:] + emf[:-1]).tolist()
    ahead = emf[1:].tolist()
    for both, now in zip(pairs, ahead, strict=True):
        state = step_on @ state + drive * both if now > state[0] else step_off @ state
        most = np.maximum(most, state)
    return most[:nodes]
