"""The current of a tube from its electrodes' volts: the three-halves law, anchored at one published point.

SI units; volts are counted from the cathode. Every number may be an array; all broadcast together.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from .arguments import at_least_zero, positive

PENTODE_OFFSET_V = 0.3  # of the law below, where the maker prints no mu of screen to grid
KNEE = 0.11  # volts of the plate, in shares of the screen's, that stand for one e-fold of the knee
TRIODE_KNEE_V = 5.0  # the same of a triode: keeps current from running into a plate without volts


class Law(NamedTuple):
    """i_k = perveance x^1.5 with x = v_g + v_s / mu_screen + v_a / mu + offset_v.

    `perveance` in A V^-1.5; `mu` is np.inf where the plate has no influence (pentodes, beam tubes), `mu_screen`
    np.inf for triodes; `screen_share` is the screen's part of the cathode current above the knee, 0 for triodes.
    """

    perveance: ArrayLike
    mu: ArrayLike
    mu_screen: ArrayLike
    offset_v: ArrayLike
    screen_share: ArrayLike


class Weights(NamedTuple):
    """A law as `flows` takes it: what each volt of plate and screen weighs against one of the grid."""

    perveance: np.ndarray
    by_plate: np.ndarray
    by_screen: np.ndarray
    offset_v: np.ndarray
    screen_share: np.ndarray


class ElectrodeAmperes(NamedTuple):
    """Plate and screen current A, each with its slopes A/V by plate, screen and grid volts."""

    plate_a: np.ndarray
    plate_by_plate: np.ndarray
    plate_by_screen: np.ndarray
    plate_by_grid: np.ndarray
    screen_a: np.ndarray
    screen_by_plate: np.ndarray
    screen_by_screen: np.ndarray
    screen_by_grid: np.ndarray


def law_of_point(
    plate_v: ArrayLike,
    grid_v: ArrayLike,
    plate_a: ArrayLike,
    gm_s: ArrayLike,
    *,
    mu: ArrayLike | None = None,
    screen_v: ArrayLike | None = None,
    screen_a: ArrayLike | None = None,
    mu_screen: ArrayLike | None = None,
) -> Law:
    """The law of a tube from one published point that also states its transconductance.

    Parameters
    ----------
    plate_v, grid_v, plate_a : array_like
        Volts from the cathode (the grid's with its sign) and amperes of the point.
    gm_s : array_like
        Transconductance grid to plate, A/V.
    mu : array_like, optional
        Amplification factor; needed for a triode (no `screen_v`), without meaning for other tubes.
    screen_v, screen_a : array_like, optional
        Volts and amperes of the screen; both or neither.
    mu_screen : array_like, optional
        Amplification factor of screen to grid, where the maker prints it.

    Returns
    -------
    Law

    Raises
    ------
    ValueError
        An argument is missing, not finite, negative or zero where that has no meaning, or contradicts the others;
        the message begins with its name.

    Notes
    -----
    From d i_k/d v_g = 1.5 i_k/x follows x = 1.5 i_k/gm_k with gm_k = gm i_k/i_a. A triode's offset is what is left
    of x; a pentode's is 0.3 V and mu_screen follows, or mu_screen is given and the offset follows. The law goes
    through its point at any plate volts; only a point whose plate takes more than the knee lets through is missed.

    References
    ----------
    Theory notes of the project, section C: our own derivation from the Child-Langmuir law (see `diode.perveance`).
    Tried on every type with two or more class A points: tests/outside/stage_points.py prints the errors.
    """
    plate, amps, gm = positive("plate_v", plate_v), positive("plate_a", plate_a), positive("gm_s", gm_s)
    grid = _finite("grid_v", grid_v)
    if screen_v is None:
        if screen_a is not None or mu_screen is not None:
            raise ValueError("screen_v: missing, though other figures of a screen are given")
        if mu is None:
            raise ValueError("mu: a triode's law needs it")
        factor = positive("mu", mu)
        drive = 1.5 * amps / gm
        part = _knee(plate, np.zeros(()), np.ones((), bool))[0]
        return Law(amps / (part * drive**1.5), factor, np.inf, drive - grid - plate / factor, 0.0)
    if screen_a is None:
        raise ValueError("screen_a: missing, though screen_v is given")
    screen, taken = positive("screen_v", screen_v), at_least_zero("screen_a", screen_a)
    cathode = amps + taken
    share = np.maximum(1.0 - amps / (cathode * _knee(plate, screen, np.zeros((), bool))[0]), 0.0)
    drive = 1.5 * amps / gm  # = 1.5 i_k / (gm i_k / i_a)
    perveance = cathode / drive**1.5
    if mu_screen is not None:
        factor = positive("mu_screen", mu_screen)
        return Law(perveance, np.inf, factor, drive - grid - screen / factor, share)
    rest = drive - grid - PENTODE_OFFSET_V
    if np.any(rest <= 0):
        raise ValueError("gm_s: too great for this current and grid volts; no screen could bring that current")
    return Law(perveance, np.inf, screen / rest, PENTODE_OFFSET_V, share)


def electrode_amperes(law: Law, plate_v: ArrayLike, screen_v: ArrayLike | None, grid_v: ArrayLike) -> ElectrodeAmperes:
    """Plate and screen current and their slopes at volts from the cathode.

    Parameters
    ----------
    law : Law
    plate_v, screen_v, grid_v : array_like
        Volts from the cathode; `screen_v` None for a triode. A triode connection has the plate's volts at the screen,
        an ultralinear tap what the tap carries.

    Notes
    -----
    Above the knee the screen takes `screen_share`; below, the plate takes (1 - screen_share)(1 - exp(-u)) with
    u = v_a / (0.11 v_s), and the screen the rest. A simple law of ours: it says nothing of the finite plate
    resistance above the knee. Below zero plate volts the plate's current goes on in a straight line (below zero), so
    that Newton's method finds back; a solution there means a plate that takes nothing.
    Makers' resistance-coupled tables of pentodes, with plates at 0.6 to 2.3 times the screen's volts, are met within
    4 % in the median and 14 % nine times in ten (tests/outside/stage_points.py); deep in the knee, at 60 V with 150 V
    on the screen, a 6DQ6B gives its screen 7.3 % (General Electric, 6DQ6-B, 1961, page 2) and the law 5.3 %.
    """
    plate, grid = np.asarray(plate_v, float), np.asarray(grid_v, float)
    screen = np.zeros(()) if screen_v is None else np.asarray(screen_v, float)
    return flows(reciprocal(law), plate, screen, grid)


def reciprocal(law: Law) -> Weights:
    """The same law as float arrays, with 1 / mu and 1 / mu_screen in the place of mu and mu_screen."""
    perveance, mu, mu_screen, offset, share = (np.asarray(field, float) for field in law)
    return Weights(perveance, 1.0 / mu, 1.0 / mu_screen, offset, share)


def flows(
    law: Weights, plate: np.ndarray, screen: np.ndarray, grid: np.ndarray, fixed: np.ndarray | None = None
) -> ElectrodeAmperes:
    """`electrode_amperes` of a `reciprocal` law; the cathode current is `fixed` (A) where that is not nan."""
    perveance, by_plate, by_screen, offset, share = law
    root = np.sqrt(np.maximum(grid + screen * by_screen + plate * by_plate + offset, 0.0))
    slope = perveance * root
    amps, slope = slope * root * root, 1.5 * slope
    if fixed is not None:
        free = np.isnan(fixed)
        amps, slope = np.where(free, amps, fixed), np.where(free, slope, 0.0)
    triode = by_screen == 0.0
    part, fade_plate, fade_screen = _knee(plate, screen, triode)
    above = 1.0 - share
    change = amps * above
    taken = slope * above * part
    plate_a = change * part
    plate_by_plate = taken * by_plate + change * fade_plate
    plate_by_screen = taken * by_screen + change * fade_screen
    rest = np.where(triode, 0.0, 1.0)
    return ElectrodeAmperes(
        plate_a, plate_by_plate, plate_by_screen, taken,
        rest * (amps - plate_a), rest * (slope * by_plate - plate_by_plate),
        rest * (slope * by_screen - plate_by_screen), rest * (slope - taken),
    )  # fmt: skip


def _knee(plate: np.ndarray, screen: np.ndarray, triode: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """The share of its current that the plate still takes, and its slopes by plate and screen volts."""
    wide = KNEE * np.maximum(screen, 1.0)
    knee = np.where(triode, TRIODE_KNEE_V, wide)
    ratio = plate / knee
    falling = np.exp(-np.maximum(ratio, 0.0))
    part = np.where(ratio < 0.0, ratio, 1.0 - falling)
    by_plate = falling / knee
    by_screen = np.where(triode | (screen <= 1.0), 0.0, -KNEE * ratio * by_plate)
    return part, by_plate, by_screen


def _finite(name: str, value: ArrayLike) -> np.ndarray:
    array = np.asarray(value, float)
    if not np.all(np.isfinite(array)):
        raise ValueError(f"{name}: must be finite")
    return array
