"""Volts of batteries, fresh and flat: as given, or by the habit of their kind."""

from collections.abc import Mapping

from pipeline.catalogue import Figure
from pipeline.point.mains import Mains
from pipeline.unit import Supply


def usual(end: str, supply: Supply, allowances: Mapping[str, Figure]) -> Figure:
    """Volts of `fresh` or `flat` cells over those they are named for: a car battery's behind a vibrator."""
    return allowances[f"{end} {'car' if supply.source == 'vibrator' else 'dry'} battery"]


def fresh_v(supply: Supply, mains: Mains, allowances: Mapping[str, Figure]) -> float:
    """Most volts of the supply's battery; 0 where it has none. A unit of batteries has one end for all."""
    share = mains.high if mains.battery else float(usual("fresh", supply, allowances).value)
    return supply.high_v or (supply.volts or 0.0) * share


def flat_v(supply: Supply, allowances: Mapping[str, Figure]) -> float:
    """Least volts of the supply's battery; 0 where it has none."""
    return supply.low_v or (supply.volts or 0.0) * float(usual("flat", supply, allowances).value)


def rests_on(supply: Supply, mains: Mains, allowances: Mapping[str, Figure]) -> tuple[Figure, ...]:
    """The figure behind the fresh volts of a battery beside the mains, where the user gave none."""
    known = not supply.volts or supply.high_v or mains.battery
    return () if known else (usual("fresh", supply, allowances),)
