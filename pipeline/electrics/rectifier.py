"""Capacitor-input rectifiers in the steady state."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from .arguments import at_least_zero, flattened, one_of, positive
from .diode import drop_factor
from .laws import Network
from .network import Circuit, Drive, Sections, build, circuit_named
from .results import dc_and_ripple, greatest, inverse_peak, mean, node_volts, plate_rms
from .steady import Steady, all_settled, steady_states


class CapacitorInput(NamedTuple):
    """What a capacitor-input rectifier does in the steady state; arrays of the broadcast shape of the arguments."""

    dc_v: np.ndarray
    ripple_pp_v: np.ndarray
    ripple_rms_v: np.ndarray
    plate_peak_a: np.ndarray
    plate_rms_a: np.ndarray
    capacitor_rms_a: np.ndarray
    inverse_peak_v: np.ndarray


def capacitor_input(
    circuit: str,
    v_rms: ArrayLike,
    frequency_hz: ArrayLike,
    source_ohm: ArrayLike,
    reservoir_f: ArrayLike,
    *,
    perveance: ArrayLike | None = None,
    threshold_v: ArrayLike = 0.0,
    load_ohm: ArrayLike | None = None,
    load_a: ArrayLike | None = None,
    load_k: ArrayLike | None = None,
    unsettled: str = "raise",
) -> CapacitorInput:
    """Steady state of a rectifier feeding a reservoir capacitor and a load.

    Every number may be an array; all broadcast together.

    Parameters
    ----------
    circuit : {'half-wave', 'full-wave', 'bridge', 'doubler', 'half-wave doubler'}
        'full-wave' has a centre-tapped winding; 'doubler' is the full-wave (symmetrical) one.
    v_rms : array_like
        Open-circuit volts of the winding, rms: each half of a centre-tapped one, else the whole.
    frequency_hz : array_like
        Mains frequency.
    source_ohm : array_like
        Resistance of one conducting path (per plate of a centre-tapped winding). Zero is allowed.
    reservoir_f : array_like
        Farads; of each of the two capacitors of a doubler.
    perveance : array_like, optional
        K of one vacuum diode, A/V^1.5 (see `perveance`). None: silicon.
    threshold_v : array_like
        Volts one diode takes before it conducts; beyond it the diode is ideal.
    load_ohm, load_a : array_like, optional
        Resistance, or constant current; one of them, or neither for no such load.
    load_k : array_like, optional
        Tubes that draw load_k v^1.5; adds to the other load.
    unsettled : {'raise', 'nan'}
        What becomes of a batch some of whose circuits have no steady state that can be found: no result at all, or
        nan for those alone.

    Returns
    -------
    CapacitorInput
        `dc_v` and ripple across the load (both capacitors of a doubler), `plate_*` of one diode, `capacitor_rms_a`
        of one reservoir capacitor (the output one of a half-wave doubler), `inverse_peak_v` across one diode.

    Raises
    ------
    ValueError
        Unknown circuit; an argument that is not finite, negative, zero where that has no meaning; both `load_ohm`
        and `load_a`; shapes that do not broadcast. The message begins with the argument's name.
    ArithmeticError
        The steady state of some circuit was not found, and `unsettled` is not 'nan'.

    Notes
    -----
    The bridge conducts through two diodes in series; so it takes two thresholds and two tube drops. Without load
    the output stands at the peak less the thresholds. A constant current cannot be drawn from an empty capacitor:
    below a thousandth of the peak volts it fades to nothing, so the output never falls below zero. A silicon path
    without resistance is given a millionth of the reservoir's reactance, which leaves the current that charges the
    capacitor along the sine. Transformer leakage inductance and capacitor series resistance are left out.

    References
    ----------
    The problem is that of O. H. Schade, "Analysis of Rectifier Operation", Proc. IRE 31(7), July 1943, pp. 341-361
    (recalled); the method is our own, see `steady`.
    """
    kind = circuit_named(circuit)
    one_of("unsettled", unsettled, ("raise", "nan"))
    if load_ohm is not None and load_a is not None:
        raise ValueError("load_ohm, load_a: give one of them, not both")
    given = {
        "v_rms": at_least_zero("v_rms", v_rms),
        "frequency_hz": positive("frequency_hz", frequency_hz),
        "source_ohm": at_least_zero("source_ohm", source_ohm),
        "reservoir_f": positive("reservoir_f", reservoir_f),
        "perveance": np.ones(()) if perveance is None else positive("perveance", perveance),
        "threshold_v": at_least_zero("threshold_v", threshold_v),
        "load_s": np.zeros(()) if load_ohm is None else 1.0 / positive("load_ohm", load_ohm),
        "load_a": np.zeros(()) if load_a is None else at_least_zero("load_a", load_a),
        "load_k": np.zeros(()) if load_k is None else at_least_zero("load_k", load_k),
    }
    shape, flat = flattened(given)
    flat["drop"] = np.zeros(flat["v_rms"].shape) if perveance is None else drop_factor(flat.pop("perveance"))
    result = _idle(circuit, kind, flat)
    loaded = (flat["load_s"] > 0) | (flat["load_a"] > 0) | (flat["load_k"] > 0)
    busy = np.flatnonzero(loaded & (np.sqrt(2) * flat["v_rms"] > kind.in_series * flat["threshold_v"]))
    if busy.size:
        result[:, busy] = _loaded(circuit, {name: value[busy] for name, value in flat.items()})
    all_settled(result[0], unsettled)
    return CapacitorInput(*(row.reshape(shape)[()] for row in result))


def _idle(circuit: str, kind: Circuit, given: dict[str, np.ndarray]) -> np.ndarray:
    """Results (7, B) of circuits without load: the capacitor stands at the peak."""
    peak = np.sqrt(2) * given["v_rms"]
    loaded = (given["load_s"] > 0) | (given["load_a"] > 0) | (given["load_k"] > 0)
    each = np.maximum(peak - kind.in_series * given["threshold_v"], 0.0)
    out = kind.stacked * each
    result = np.zeros((7, peak.size))
    result[0] = np.where(loaded, 0.0, out)
    if circuit in ("half-wave", "full-wave"):
        result[6] = result[0] + peak
    else:
        result[6] = np.minimum(result[0] + given["threshold_v"], kind.stacked * peak)
    return result


def _loaded(circuit: str, given: dict[str, np.ndarray]) -> np.ndarray:
    """Results (7, B) of circuits with load."""
    zero = np.zeros_like(given["v_rms"])
    drive = Drive(
        np.sqrt(2) * given["v_rms"], 2 * np.pi * given["frequency_hz"], given["source_ohm"], zero, given["drop"],
        given["threshold_v"],
    )
    loads = {name: given[name][None] for name in ("load_a", "load_s", "load_k")}
    network = build(circuit, drive, Sections(zero[None], zero[None], given["reservoir_f"][None], **loads, parent=(-1,)))
    result = np.full((7, zero.size), np.nan)
    for chosen, steady in steady_states(network):
        result[:, chosen] = _figures(circuit, drive.only(chosen), network, steady)
    return result


def _figures(circuit: str, drive: Drive, network: Network, steady: Steady) -> np.ndarray:
    volts = node_volts(network, steady)[0]
    into = steady.paths[: 2 if circuit == "doubler" else 1] - steady.loads[0]
    return np.array([
        *dc_and_ripple(volts, steady),
        greatest(steady, steady.paths).max(axis=0),
        plate_rms(circuit, steady),
        np.sqrt(mean(np.mean(into**2, axis=0), steady.weight)),
        inverse_peak(circuit, drive, volts, steady),
    ])
