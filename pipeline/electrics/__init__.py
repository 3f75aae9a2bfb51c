"""Pure sums: arrays in, arrays out, SI units; numpy and nothing else."""

from .diode import diode_drop, perveance
from .rectifier import CapacitorInput, capacitor_input
from .supply import Section, Supply, Waveforms, supply

__all__ = [
    "CapacitorInput",
    "Section",
    "Supply",
    "Waveforms",
    "capacitor_input",
    "diode_drop",
    "perveance",
    "supply",
]
