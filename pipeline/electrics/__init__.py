"""Pure sums: arrays in, arrays out, SI units; numpy and nothing else.

`supply` serves every check; the other names are loaded when they are first asked for, so that a command pays only for
the sums it runs.
"""

from importlib import import_module
from typing import Any

from .supply import Section, Supply, Waveforms, supply

_HOME = {
    "diode": ("diode_drop", "perveance"),
    "filters": ("choke_input_dc", "choke_input_ripple", "critical_inductance", "lc_attenuation", "rc_attenuation",
                "reservoir_ripple"),
    "rectifier": ("CapacitorInput", "capacitor_input"),
    "surge": ("reservoir_surge", "switch_on_surge"),
    "transient": ("AddedOhm", "LargestCapacitor", "SeriesResistor", "added_ohm_for_peak", "added_ohm_for_switching",
                  "hot_switching", "largest_capacitor", "series_ohm_for_dc", "supply_impedance"),
}
_MODULE = {name: module for module, names in _HOME.items() for name in names}
__all__ = [
    "AddedOhm",
    "CapacitorInput",
    "LargestCapacitor",
    "Section",
    "SeriesResistor",
    "Supply",
    "Waveforms",
    "added_ohm_for_peak",
    "added_ohm_for_switching",
    "capacitor_input",
    "choke_input_dc",
    "choke_input_ripple",
    "critical_inductance",
    "diode_drop",
    "hot_switching",
    "largest_capacitor",
    "lc_attenuation",
    "perveance",
    "rc_attenuation",
    "reservoir_ripple",
    "reservoir_surge",
    "series_ohm_for_dc",
    "supply",
    "supply_impedance",
    "switch_on_surge",
]


def __getattr__(name: str) -> Any:
    if name not in _MODULE:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_MODULE[name]}"), name)
