"""Tubewright: a catalogue of tube and component ratings, and the checks that join a unit's parts list to it.

From Python::

    from pipeline import Catalogue, check

    amplifier = check("data_raw/units/hall-amplifier")
    amplifier.findings                            # a pandas DataFrame
    amplifier.what_if(C1="47 µF 600 V").status    # 1 while something must stop
    Catalogue().rating("12AX7")
"""

from typing import TYPE_CHECKING, Any

__version__ = "0.2.0"
__all__ = ["Catalogue", "CheckedUnit", "UnitError", "check"]

if TYPE_CHECKING:
    from pipeline.door import Catalogue, CheckedUnit, UnitError, check


def __getattr__(name: str) -> Any:
    """The names of the door, loaded when they are first asked for: the command line does without them."""
    if name not in __all__:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from importlib import import_module

    return getattr(import_module("pipeline.door"), name)
