"""A new unit folder with commented files, so that the first unit takes minutes: what kind of set, on which mains."""

import re
from collections.abc import Mapping
from pathlib import Path
from typing import NamedTuple

from pipeline.bench import start_texts as texts
from pipeline.catalogue import Catalogue
from pipeline.textfile import hint, printable
from pipeline.writing.files import write_all

KINDS = {
    "radio": "radio;transformer radio;ac radio;receiver;tuner;table radio",
    "ac/dc radio": "ac/dc radio;ac/dc;transformerless;series string;all american five;allstrom;universal;u set",
    "amplifier": "amplifier;amp;guitar amplifier;hi fi amplifier;hifi amplifier;power amplifier;organ",
    "record player": "record player;gramophone;phonograph;radiogram;turntable",
    "tape machine": "tape machine;tape recorder;tape;tape deck",
    "battery radio": "battery radio;battery;battery set;portable",
    "car radio": "car radio;vibrator;vibrator set;auto radio;farm radio",
    "test gear": "test gear;test set;instrument;meter;oscilloscope;signal generator;tube tester",
}
"""Kind of set → the words for it."""
WITHOUT_MAINS = ("battery radio", "car radio")
_REGIONS = {"us": "USA", "united states": "USA", "america": "USA", "north america": "USA", "gb": "UK", "england": "UK",
            "britain": "UK", "great britain": "UK", "united kingdom": "UK", "eu": "Europe"}
MAINS_V, MAINS_HZ = (80.0, 480.0), (15.0, 500.0)
"""What the unit's file takes."""
LOW_V = 160.0
"""Mains below it are those of 100 to 127 V."""
REMARKS_AT = 30
"""Letters before the remark behind a key and its value."""
FAR = 0.2
"""Share by which an outlet's volts differ from its region's where one of them is wrong."""
NAMEPLATE_LOW_V = 117.0
"""What most nameplates of sets for 110 to 120 V say (habit of the trade)."""


class Region(NamedTuple):
    """A region's mains: nominal volts, limits at the outlet where they are known, hertz; what older nameplates say."""

    name: str
    nominal_v: float
    high_v: float | None
    low_v: float | None
    hertz: float
    before_v: float | None = None


class Answers(NamedTuple):
    """What is known at the start; the rest stands in the files as comments to fill in."""

    name: str
    kind: str = "radio"
    region: Region | None = None
    mains_v: float | None = None
    mains_hz: float | None = None
    design_mains_v: float | None = None


def start(folder: Path, answers: Answers) -> list[Path]:
    """Write `unit.toml` and `parts.csv` into a new folder; raises FileExistsError where one of them is there."""
    files = {folder / "unit.toml": toml_of(answers), folder / "parts.csv": texts.PARTS}
    for path in files:
        if path.exists() or path.is_symlink():
            raise FileExistsError(17, "is there already: name another folder", str(path))
    folder.mkdir(parents=True, exist_ok=True)
    write_all({path: text.encode() for path, text in files.items()})
    return list(files)


def regions_of(catalogue: Catalogue) -> dict[str, Region]:
    """The regions of today with their mains, and what an older nameplate there says; those without hertz left out."""
    rows = {name: {quantity: figure.value for quantity, figure in row.items()}
            for name, row in catalogue.chosen("regions").items()}
    before = {name.partition(" before ")[0]: row["nominal_v"] for name, row in rows.items() if " before " in name}
    return {name: Region(name, row["nominal_v"], row.get("high_v"), row.get("low_v"), row["frequency_hz"],
                         before.get(name))
            for name, row in rows.items() if " before " not in name and "frequency_hz" in row}


def read_kind(text: str) -> str:
    """The kind of set that a person names; raises ValueError, with the known ones, where it is none."""
    words = {word: kind for kind, said in KINDS.items() for word in said.split(";")}
    key = " ".join(text.lower().replace("-", " ").replace("_", " ").split())
    if key not in words:
        near = hint(key, words, "one of " + ", ".join(KINDS))
        raise ValueError(f"{printable(text[:40])!r} is no kind of set: {near}")
    return words[key]


def read_region(text: str, regions: Mapping[str, Region]) -> Region:
    """The region that a person names; raises ValueError, with the known ones, where it is none."""
    key = " ".join(text.split())
    name = _REGIONS.get(key.lower(), next((name for name in regions if name.lower() == key.lower()), key))
    if name not in regions:
        raise ValueError(f"{printable(text[:40])!r} is no region of the catalogue: "
                         + hint(name, regions, "one of " + ", ".join(regions)))
    return regions[name]


def region_for(mains_v: float, mains_hz: float | None, regions: Mapping[str, Region]) -> Region | None:
    """The widest region whose limits hold volts read at an outlet, of one frequency where it is given; unnamed."""
    inside = [r for r in regions.values() if (mains_hz is None or abs(r.hertz - mains_hz) < 2)
              and r.high_v is not None and r.low_v is not None and r.low_v <= mains_v <= r.high_v]
    widest = max(inside, key=lambda r: r.high_v or 0.0, default=None)
    return widest and widest._replace(name="the region", before_v=None)


def fitting(answers: Answers) -> Answers:
    """The answers, if an outlet of their region can have their volts; raises ValueError where it cannot."""
    region, volts = answers.region, answers.mains_v
    if region is not None and volts is not None and abs(volts - region.nominal_v) > FAR * region.nominal_v:
        raise ValueError(f"{volts:g} V is no outlet of {region.name}, which has {region.nominal_v:g} V: "
                         "give one of the two")
    return answers


def checked(answers: Answers) -> Answers:
    """The answers, if the file can take them; raises ValueError that says which cannot be right."""
    for unit, where, value, (low, high) in (
            ("V", "at the outlet", answers.mains_v, MAINS_V), ("Hz", "at the outlet", answers.mains_hz, MAINS_HZ),
            ("V", "on the nameplate", answers.design_mains_v, MAINS_V)):
        if value is not None and not low <= value <= high:
            more = "; a heater's volts stand in unit.toml, under [[winding]]" if value < low and unit == "V" else ""
            raise ValueError(f"{value:g} {unit} {where} cannot be right: expected {low:g} to {high:g}{more}")
    if len(answers.name) > 200 or not answers.name.isprintable():
        raise ValueError("the name is too long or holds what does not print: write at most 200 letters")
    return answers


def toml_of(answers: Answers) -> str:
    """The commented `unit.toml` for these answers, its remarks one below the other."""
    name = answers.name.replace("\\", "\\\\").replace('"', '\\"')
    body = re.sub(r"(?m)^(.*\S)  +#", lambda line: f"{line[1]:<{REMARKS_AT}} #", _body(answers))
    return texts.HEAD.format(name=name) + body


def _body(answers: Answers) -> str:
    """What stands below the name."""
    if answers.kind in WITHOUT_MAINS:
        return texts.BATTERY if answers.kind == "battery radio" else texts.VIBRATOR
    mains_v = answers.mains_v or (answers.region.nominal_v if answers.region else 120.0)
    mains_hz = answers.mains_hz or (answers.region.hertz if answers.region else
                                  60.0 if mains_v < LOW_V else 50.0)
    values = _figures(mains_v, mains_hz, answers)
    body = {"ac/dc radio": texts.STRING, "amplifier": texts.WINDINGS + texts.PUSH_PULL,
            "test gear": texts.WINDINGS + texts.REGULATED}.get(answers.kind, texts.WINDINGS + texts.SINGLE)
    return (texts.MAINS + body).format(**values)


def _figures(mains_v: float, mains_hz: float, answers: Answers) -> dict[str, str]:
    """What the texts say about this mains."""
    low, region = mains_v < LOW_V, answers.region
    usual = region.before_v if region and region.before_v else NAMEPLATE_LOW_V if 110 <= mains_v < 130 else \
        region.nominal_v if region else mains_v
    high = region.high_v if region and region.high_v else round(mains_v * 1.1)
    plate = answers.design_mains_v
    return {
        "mains_v": f"{mains_v:g}", "mains_hz": f"{mains_hz:g}", "high_v": f"{max(high, mains_v):g}",
        "design": f"design_mains_v = {plate:g}" if plate else f"# design_mains_v = {usual:g}",
        "of_region": f"the limit of {region.name}" if region else "10 % above today's volts",
        "line_v": f"{plate or usual:g}", "string_a": "0.15" if low else "0.1",
        "string_types": "0.15 for most sets of miniature tubes, 0.3 for older ones" if low else
        "0.1 for U types, 0.2 for C types, 0.3 for P types",
        "order": '["V5", "V4", "V1", "V2", "V3"]', "surge_ohm": "33" if low else "150",
        "secondary_v": "300" if low else "250", "secondary_ohm": "95" if low else "190",
    }
