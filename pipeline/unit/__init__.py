"""One piece of equipment on the bench: its folder read, its parts named and rated."""

from pipeline.unit.faults import UnitError
from pipeline.unit.files import load
from pipeline.unit.identify import identify, read_part
from pipeline.unit.model import (
    CHASSIS_MINUS,
    LETTERS,
    HeaterString,
    MainsSupply,
    Node,
    Part,
    Place,
    Stage,
    Supply,
    Unit,
    UnitReading,
    Winding,
)
from pipeline.unit.readings import load_readings

__all__ = ["CHASSIS_MINUS", "LETTERS", "HeaterString", "MainsSupply", "Node", "Part", "Place", "Stage",
           "Supply", "Unit", "UnitError", "UnitReading", "Winding", "identify", "load", "load_readings", "read_part"]
