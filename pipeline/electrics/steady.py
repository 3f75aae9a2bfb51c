"""Periodic steady state of a rectifier network, found directly instead of by running hundreds of cycles.

The unknowns are the states at every instant of one period, on a grid that is fine where the rectifier conducts; see
`newton` for how they are found, `grids` for how the grid is.

Arrays here have the batch as their last axis. m states, J rectifier paths, P ports, N time steps, B circuits.
"""

from __future__ import annotations

from collections.abc import Generator, Iterator
from typing import NamedTuple

import numpy as np

from .grids import COARSE_STEP, conduction, dense, even_grid, fitted_grid, resample
from .laws import Network, load_amperes, path_amperes, runs_empty
from .newton import EULER, RADAU, Grid, grid_of, periodic

_CHUNK = 1024  # circuits solved together
# One large block, freed, has the C library keep what is freed after it (glibc raises its thresholds) instead of handing
# it back to the system; fetching it anew, page by page, would take longer than the sums.
_SMALL, _KEPT = 16, 31 * 2**17  # circuits; numbers of eight bytes, 31 MB
_MAX_PASSES = 8
_FEW = 0.1  # share of circuits that may be left behind in a pass
_MORE, _MOST = 64, 512  # steps added for a capacitor that runs empty, and as a last resort
_PATIENCE = 16  # iterations after which a pass of order three is given up
_ROUGHLY, _EXACTLY = 1e-2, 1e-5  # last change of a Newton iteration; the next would be about its square


class Steady(NamedTuple):
    """Samples over one span, half a cycle or a whole one; T = 2 N: those within steps, then those at their ends.

    Extremes are read at the ends, where a stiff step is damped.
    """

    angle: np.ndarray  # (T, B)
    weight: np.ndarray  # (T, B) quadrature weights, summing to the span
    states: np.ndarray  # (m, T, B)
    paths: np.ndarray  # (J, T, B) amperes
    loads: np.ndarray  # (P, T, B) amperes
    emf: np.ndarray  # (T, B)

    @property
    def ends(self) -> slice:
        """The samples at the ends of steps, in order of time."""
        return slice(len(self.angle) // 2, None)


def steady_states(network: Network) -> Iterator[tuple[np.ndarray, Steady]]:
    """Solve a network for the state that repeats itself.

    Parameters
    ----------
    network : Network
        m states, J paths, B circuits; every circuit must draw some load.

    Yields
    ------
    chosen : ndarray
        Numbers of some of the circuits; every circuit comes once, or not at all if its state was not found.
    steady : Steady
        Theirs.

    Notes
    -----
    A backward-Euler pass on an even grid finds where the paths conduct; it converges from anywhere, because the
    rectifier law is convex and rising. Passes of order three follow, each on a grid fitted to the conduction
    interval that the one before it found, until that interval no longer moves. The few circuits that need more than
    the others are left until all have had a pass, and go on together; at last on many steps, where backward Euler
    serves if order three does not settle.
    """
    if network.peak.size > _SMALL:
        np.empty(_KEPT)
    slow: list[np.ndarray] = []
    waiting: list[_Waiting] = []
    empty: list[_Waiting] = []
    for chosen in _parts(network.peak.size):
        begun, left = _begun(network, chosen, _FEW)
        slow.append(left)
        yield from _passed(network, begun, 0, 0, waiting, empty)
    late = np.concatenate(slow)
    for chosen in _parts(late.size):
        begun, _ = _begun(network, late[chosen])
        yield from _passed(network, begun, 0, 0, waiting, empty)
    few = yield from _rounds(network, waiting, 0, empty)
    more = yield from _rounds(network, _denser(network, empty, _MORE), _MORE)
    last = _denser(network, few, _MOST) + _denser(network, more, _MOST)
    for those in _joined((yield from _rounds(network, last, _MOST))):
        yield from _last_pass(network, those)


def all_settled(figures: np.ndarray, unsettled: str) -> None:
    """ArithmeticError where some of the figures are nan, unless `unsettled` is 'nan'."""
    if unsettled != "nan" and np.isnan(figures).any():
        raise ArithmeticError("the rectifier's steady state was not found: Newton's method did not converge")


class _Waiting(NamedTuple):
    """Circuits whose next pass is still to come, and the grid it will have."""

    busy: np.ndarray  # (B,) their numbers
    window: np.ndarray  # (2, W, B) conduction intervals the grid was fitted to
    nodes: np.ndarray  # (N + 1, B)
    angle: np.ndarray  # (2, N, B)
    emf: np.ndarray  # (2, N, B)
    guess: np.ndarray  # (m, 2, N, B) states
    hard: np.ndarray  # (B,) whether Newton's method has failed from such a guess

    @property
    def grid(self) -> Grid:
        """The grid for all of them."""
        return Grid(RADAU, self.nodes, self.angle, self.emf)

    def only(self, chosen: np.ndarray) -> _Waiting:
        """Those that are marked."""
        numbers = np.flatnonzero(chosen)
        return _Waiting(*(value.take(numbers, axis=-1) for value in self))

    def on(self, network: Network, window: np.ndarray, steps: int) -> _Waiting:
        """The same on a grid fitted to another window, with `steps` more than the least."""
        grid = grid_of(network, RADAU, dense(fitted_grid(network, window), steps))
        guess = resample(network, self.grid, self.guess, grid)
        return self._replace(window=window, nodes=grid.nodes, angle=grid.angle, emf=grid.emf, guess=guess)


def _parts(count: int) -> Iterator[np.ndarray]:
    """Numbers up to `count` in parts that are solved together."""
    return (np.arange(begin, min(begin + _CHUNK, count)) for begin in range(0, count, _CHUNK))


def _joined(waiting: list[_Waiting]) -> Iterator[_Waiting]:
    """All that wait, in parts that are solved together."""
    if waiting:
        those = _Waiting(*(np.concatenate(values, axis=-1) for values in zip(*waiting, strict=True)))
        for chosen in _parts(those.busy.size):
            yield _Waiting(*(value[..., chosen[0] : chosen[-1] + 1] for value in those))


def _begun(network: Network, chosen: np.ndarray, few: float = 0.0) -> tuple[_Waiting, np.ndarray]:
    """The circuits `chosen` after their first pass, and the numbers of those that did not come through it."""
    network = network.only(chosen)
    grid = grid_of(network, EULER, even_grid(network))
    guess = np.broadcast_to(network.start[:, None, None], (len(network.start), *grid.emf.shape))
    states, settled = periodic(network, grid, guess, _ROUGHLY, few=few)
    if not settled.all():
        network, grid, states = network.only(settled), grid.only(settled), states.compress(settled, axis=-1)
    window = conduction(network, grid, states)
    window += np.array([-0.5, 0.5])[:, None, None] * COARSE_STEP
    fitted = grid_of(network, RADAU, fitted_grid(network, window))
    guess = resample(network, grid, states, fitted)
    busy = chosen[settled]
    return _Waiting(busy, window, *fitted[1:], guess, np.zeros(busy.size, bool)), chosen[~settled]


def _denser(network: Network, waiting: list[_Waiting], steps: int) -> list[_Waiting]:
    """All that wait, on grids with `steps` more than the least."""
    return [those.on(network.only(those.busy), those.window, steps) for those in _joined(waiting)]


def _rounds(
    network: Network, waiting: list[_Waiting], steps: int, empty: list[_Waiting] | None = None
) -> Generator[tuple[np.ndarray, Steady], None, list[_Waiting]]:
    """Passes until all are done; returns those that are not after `_MAX_PASSES`."""
    for count in range(1, _MAX_PASSES):
        together, waiting = _joined(waiting), []
        for those in together:
            yield from _passed(network, those, count, steps, waiting, empty)
    return waiting


def _passed(
    network: Network, those: _Waiting, count: int, steps: int, waiting: list[_Waiting], empty: list[_Waiting] | None
) -> Iterator[tuple[np.ndarray, Steady]]:
    """A pass of order three; yields the circuits that are done and puts the others, on a new grid, where they wait.

    Where the current rises within a small angle, the turn-on must be known to a part of that angle. Where a capacitor
    runs empty, the constant current it fades with bends the volts at instants for which the grid is not made.
    """
    if not those.busy.size:
        return
    network = network.only(those.busy)
    guess, sound = _eased(network, those)
    states, settled = periodic(network, those.grid, guess, _EXACTLY, _PATIENCE, 0.0 if count else _FEW)
    if sound.any():
        states = np.where(sound & ~settled, guess, states)
    found = conduction(network, those.grid, states)
    width = np.maximum(found[1] - found[0], 1e-9)
    allowed = np.array([np.minimum(0.15 * width, np.maximum(0.25 * network.layer, 2e-6)), 0.08 * width])
    near = settled & (np.max(np.abs(found - those.window) / allowed, axis=(0, 1)) < 1.0)
    drained = near & (runs_empty(network, states[:, -1]) if empty is not None else False)
    done, left = near & ~drained, ~near
    if done.any():
        yield _taken(network, those, states, done)
    window = np.where(settled | sound, found if count < 4 else 0.5 * (found + those.window), those.window)
    hard = ~settled & ((count > 0) | ~np.isfinite(states).all(axis=(0, 1, 2)))
    after = those._replace(guess=states, hard=hard)
    if empty is not None and drained.any():
        empty.append(after.only(drained)._replace(window=window.compress(drained, axis=-1)))
    if left.any():
        waiting.append(after.only(left).on(network.only(left), window.compress(left, axis=-1), steps))


def _last_pass(network: Network, those: _Waiting) -> Iterator[tuple[np.ndarray, Steady]]:
    """Yields the circuits as they are after one pass more, of order one where order three does not settle."""
    network = network.only(those.busy)
    states, settled = periodic(network, those.grid, those.guess, _EXACTLY)
    guess, sound = _eased(network, those._replace(hard=~settled))
    good = settled | sound
    if good.any():
        yield _taken(network, those, np.where(settled, states, guess), good)


def _taken(network: Network, those: _Waiting, states: np.ndarray, chosen: np.ndarray) -> tuple[np.ndarray, Steady]:
    """The circuits marked as `chosen`, as results."""
    if chosen.all():
        return those.busy, _sampled(network, those.grid, states)
    few = those._replace(guess=states).only(chosen)
    return few.busy, _sampled(network.only(chosen), few.grid, few.guess)


def _eased(network: Network, those: _Waiting) -> tuple[np.ndarray, np.ndarray]:
    """The guesses, those of hard circuits found anew by backward Euler on their own grid; and where that was done."""
    if not those.hard.any():
        return those.guess, those.hard
    hard, few, guess = network.only(those.hard), those.only(those.hard), np.array(those.guess)
    grid = grid_of(hard, EULER, few.nodes)
    begin = np.broadcast_to(hard.start[:, None, None], (len(hard.start), *grid.emf.shape))
    states, settled = periodic(hard, grid, begin, _EXACTLY)
    guess[..., those.hard] = resample(hard, grid, states, few.grid)
    sound = those.hard.copy()
    sound[those.hard] = settled
    return guess, sound


def _sampled(network: Network, grid: Grid, states: np.ndarray) -> Steady:
    """Everything a result is made of, at the stages of the last pass."""
    paths = np.array([path_amperes(network, j, grid.emf, states) for j in range(len(network.sign))])
    loads = np.array([load_amperes(network, p, states) for p in range(len(network.port))])
    weight = grid.scheme.weights[:, None, None] * np.diff(grid.nodes, axis=0)
    both = (grid.angle, weight, states, paths, loads, grid.emf)
    return Steady(*(value.reshape(*value.shape[:-3], -1, value.shape[-1]) for value in both))
