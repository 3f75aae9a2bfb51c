"""Small invented units that the tests of this folder share."""

from pipeline.checks.check import check
from pipeline.unit import load

LINE = """name = "Made up"
mains_v = 120
mains_high_v = 126
mains_hz = 60
design_mains_v = 117
"""
WINDING = (
    LINE
    + """
[[winding]]
id = "H1"
volts = 6.3
amps = 4.0
"""
)
SELENIUM = (
    LINE
    + """
[supply]
rectifier = "SR1"
circuit = "half-wave"
secondary_v = 117
secondary_ohm = 3
added_ohm = 22

[[supply.node]]
id = "B1"
capacitors = ["C1"]
load_a = 0.060
"""
)
TRANSFORMER = (
    WINDING
    + """
[supply]
rectifier = "V5"
circuit = "full-wave"
secondary_v = 250
secondary_ohm = 150

[[supply.node]]
id = "B1"
capacitors = ["C1"]
load_a = 0.050

[[supply.node]]
id = "B2"
from = "B1"
through = "R1"
capacitors = ["C2"]
load_a = 0.010
"""
)


def checked_unit(make_unit, catalogue, toml, parts):
    """The checked unit of a TOML text and parts lines."""
    return check(load(make_unit(toml, parts), catalogue), catalogue)
