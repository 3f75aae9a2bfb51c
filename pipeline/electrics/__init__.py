"""Pure sums: arrays in, arrays out, SI units; numpy and nothing else."""

from .diode import diode_drop, perveance
from .rectifier import CapacitorInput, capacitor_input

__all__ = ["CapacitorInput", "capacitor_input", "diode_drop", "perveance"]
