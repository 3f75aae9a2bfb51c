"""Pure sums: arrays in, arrays out, SI units; numpy and nothing else."""

from .diode import diode_drop, perveance
from .filters import (
    choke_input_dc,
    choke_input_ripple,
    critical_inductance,
    lc_attenuation,
    rc_attenuation,
    reservoir_ripple,
)
from .rectifier import CapacitorInput, capacitor_input
from .supply import Section, Supply, Waveforms, supply
from .transient import (
    AddedOhm,
    LargestCapacitor,
    SeriesResistor,
    added_ohm_for_peak,
    added_ohm_for_switching,
    hot_switching,
    largest_capacitor,
    series_ohm_for_dc,
    supply_impedance,
)

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
    "series_ohm_for_dc",
    "supply",
    "supply_impedance",
]
