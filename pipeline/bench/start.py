"""A new unit folder with commented files, so that the first unit takes minutes."""

from pathlib import Path
from typing import NamedTuple

from pipeline.writing.files import write_all


class Answers(NamedTuple):
    """What is known at the start; the rest stands in the files as comments to fill in."""

    name: str
    mains_v: float = 120.0
    mains_hz: float = 60.0
    design_mains_v: float = 117.0
    transformerless: bool = False


def start(folder: Path, answers: Answers) -> list[Path]:
    """Write `unit.toml` and `parts.csv` into a new folder; raises FileExistsError where one of them is there."""
    files = {folder / "unit.toml": _toml(answers), folder / "parts.csv": _PARTS}
    for path in files:
        if path.exists() or path.is_symlink():
            raise FileExistsError(17, "is there already: name another folder", str(path))
    folder.mkdir(parents=True, exist_ok=True)
    write_all({path: text.encode() for path, text in files.items()})
    return list(files)


def _toml(answers: Answers) -> str:
    name = answers.name.replace("\\", "\\\\").replace('"', '\\"')
    head = _HEAD.format(name=name, mains_v=answers.mains_v, mains_hz=answers.mains_hz,
                        design_mains_v=answers.design_mains_v)
    return head + (_STRING if answers.transformerless else _WINDING)


_HEAD = '''# What the bench knows about this unit. Volts are rms; everything after # is a comment.
name = "{name}"
mains_v = {mains_v:g}            # at the outlet today
# mains_high_v = 126     # the most the outlet ever gives; without it the region's limit is taken
mains_hz = {mains_hz:g}
design_mains_v = {design_mains_v:g}     # on the nameplate
'''
_WINDING = '''
[[winding]]               # a heater winding; tubes and lamps name it in their `at` column
id = "H1"
volts = 6.3
# amps = 3.0              # its rating, or what the maker's own tubes drew

# The B+ supply. Take the # away and fill in; the rectifier and the other refs are those of parts.csv.
# [supply]
# rectifier = "V5"
# circuit = "full-wave"   # half-wave, full-wave, bridge, doubler
# secondary_v = 300       # each half, at nameplate mains
# secondary_ohm = 95      # each half, measured cold
# primary_ohm = 6.5       # optional
#
# [[supply.node]]
# id = "B1"               # the reservoir
# capacitors = ["C1"]
# tubes = ["V4"]          # what draws here; or load_a = 0.080
#
# [[supply.node]]
# id = "B2"
# from = "B1"
# through = "R1"          # a choke or a resistor of parts.csv
# capacitors = ["C2"]
# load_a = 0.012
'''
_STRING = '''
[[string]]                # the series heaters; tubes name it in their `at` column
id = "S1"
amps = 0.15
# order = ["V5", "V4", "V1", "V2", "V3"]   # from the line side to the chassis side
# dropper = "R20"

# The B+ supply, straight from the line. Take the # away and fill in.
# [supply]
# rectifier = "V5"
# circuit = "half-wave"
# secondary_v = 117       # the line, at nameplate volts
# secondary_ohm = 3       # the house wiring, about
# added_ohm = 33          # the surge resistor
#
# [[supply.node]]
# id = "B1"
# capacitors = ["C1A"]
# load_a = 0.060
'''
_PARTS = "ref,marking,role,at,measured,note\n"
