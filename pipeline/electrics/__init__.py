"""Pure sums: arrays in, arrays out, SI units; numpy and nothing else.

`supply` serves every check; the other names are loaded when they are first asked for, so that a command pays only for
the sums it runs.
"""

from importlib import import_module
from typing import Any

from .supply import Section, Supply, Waveforms, supply

_HOME = {
    "circuit": ("operating_point",),
    "diode": ("diode_drop", "perveance"),
    "ladder": ("LargestFirst", "largest_first_capacitor"),
    "rectifier": ("CapacitorInput", "capacitor_input"),
    "regulation": ("rectified_output", "square_wave_output"),
    "stages": ("Law", "electrode_amperes", "law_of_point"),
    "surge": ("reservoir_surge", "switch_on_surge"),
    "transient": ("added_ohm_for_switching", "hot_switching"),
}
_MODULE = {name: module for module, names in _HOME.items() for name in names}
__all__ = [
    "CapacitorInput",
    "LargestFirst",
    "Law",
    "Section",
    "Supply",
    "Waveforms",
    "added_ohm_for_switching",
    "capacitor_input",
    "diode_drop",
    "electrode_amperes",
    "hot_switching",
    "largest_first_capacitor",
    "law_of_point",
    "operating_point",
    "perveance",
    "rectified_output",
    "reservoir_surge",
    "square_wave_output",
    "supply",
    "switch_on_surge",
]


def __getattr__(name: str) -> Any:
    if name not in _MODULE:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_MODULE[name]}"), name)
