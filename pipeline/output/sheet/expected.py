"""What to expect on each pin of a tube: only what was measured, or what the unit's own figures make certain."""

from collections.abc import Iterable, Mapping
from typing import NamedTuple

from pipeline.checks.check import Checked
from pipeline.output.sheet.words import volts
from pipeline.point.heaters import Heater, RatedHeater, heater_in_string, heater_on_winding, is_cold
from pipeline.unit import Part

HEATER_ENDS, HEATER_TAPS = {"h", "f"}, {"h_ct", "f_ct", "tap", "ct"}
PLATES, SCREENS = {"p", "a"}, {"g2"}
_READINGS = (("plate_v", PLATES), ("screen_v", SCREENS), ("cathode_v", {"k"}), ("grid_v", {"g", "g1"}))


class Pin(NamedTuple):
    """A pin's number and the electrodes on it, sections left out."""

    number: str
    electrodes: frozenset[str]


class Expected(NamedTuple):
    """Volts by pin in words; the heater's pins and volts; readings that several pins could mean."""

    pins: dict[str, str]
    heater_pins: str
    heater: str
    unplaced: tuple[str, ...]


def pins_of(rows: Iterable[Mapping[str, object]]) -> list[Pin]:
    """The pins of one type, in the order of the rows."""
    return [Pin(str(row["pin"]), frozenset(_bare(p) for p in str(row["electrode"]).split("+"))) for row in rows]


def _bare(electrode: str) -> str:
    electrode = electrode.strip()
    return electrode if electrode in HEATER_TAPS else electrode.rpartition("_")[2]


def expected(part: Part, checked: Checked, rows: Iterable[Mapping[str, object]]) -> Expected:
    """What the meter should show on the pins of `part`.

    Measured readings come first; then the heater's volts, and of the rectifier its AC volts and the reservoir's B+.
    A plate that a node feeds can stand no higher than the node: that is said, its own volts are not known.
    """
    pins = pins_of(rows)
    found: dict[str, str] = {}
    heater_pins, heater = _heater(part, checked, pins)
    found |= _heater_pins(heater_pins, heater)
    found |= _rectifier(part, checked, pins)
    found |= _ceiling(part, checked, pins)
    measured, unplaced = _measured(part, pins)
    return Expected(found | measured, heater_pins, heater, unplaced)


def _heater(part: Part, checked: Checked, pins: list[Pin]) -> tuple[str, str]:
    """(pins as `4+5 to 9`, volts in words) of the heater; empty where not known."""
    if is_cold(part):
        return "", ""
    fitted, words = _heater_volts(part, checked)
    if "heater_v" in part.measured:
        words = f"{volts(part.measured['heater_v'])} measured"
    option = _option_pins(fitted) if fitted else ""
    ends = [p.number for p in pins if p.electrodes & HEATER_ENDS]
    taps = [p.number for p in pins if p.electrodes & HEATER_TAPS]
    if option:
        return option.replace("-", " to "), words
    if len(ends) == 2 and (not taps or fitted is None or _whole(fitted)):
        return " to ".join(ends), words
    return "", words


def _heater_volts(part: Part, checked: Checked) -> tuple[Heater | RatedHeater | None, str]:
    unit, mains = checked.unit, checked.mains
    if winding := unit.winding_of(part):
        return heater_on_winding(part, winding.volts), f"{volts(winding.volts * mains.today)} AC"
    string = unit.string_of(part)
    heater = heater_in_string(part, string.amps) if string else None
    wrong = any(f.check == "heater-string" and f.verdict in ("stop", "unknown") for f in checked.findings)
    return heater, f"about {volts(heater.volts.value)} AC" if heater and not wrong else ""


def _whole(heater: Heater | RatedHeater) -> bool:
    """Whether the arrangement is the type's plain one, end to end."""
    return "/" not in heater.volts.subject or heater.volts.subject.endswith("/series")


def _option_pins(heater: Heater | RatedHeater) -> str:
    """Pins of a tapped heater's arrangement as the catalogue writes them: `4+5-9`."""
    ratings = heater.part.ratings
    row = ratings.rows("heater_options").get(heater.volts.subject, {}) if ratings else {}
    return str(row["pins"].value) if "pins" in row else ""


def _heater_pins(ends: str, words: str) -> dict[str, str]:
    if not (ends and words):
        return {}
    one, _, other = ends.partition(" to ")
    return {pin: f"{words} to {far}" for near, far in ((one, other), (other, one)) for pin in near.split("+")}


def _rectifier(part: Part, checked: Checked, pins: list[Pin]) -> dict[str, str]:
    """AC volts of the rectifier's plates before load, and B+ where it leaves."""
    state = checked.state
    if state is None or state.device.ref != part.ref:
        return {}
    if state.supply.circuit not in ("full-wave", "half-wave"):
        return {}
    winding = volts(state.winding_v * checked.mains.today)
    found = {p.number: f"{winding} AC" for p in pins if p.electrodes & PLATES}
    if state.solved is None or state.supply.input != "capacitor":
        return found
    dc = f"{volts(state.today_v(state.nodes[0].id))} DC"
    outlet = {"f"} if state.device.directly_heated else {"k"}
    return found | {p.number: dc for p in pins if p.electrodes & outlet}


def _ceiling(part: Part, checked: Checked, pins: list[Pin]) -> dict[str, str]:
    state = checked.state
    if state is None:
        return {}
    node = next((n for n in state.nodes if n.feeds(part.ref)), None)
    top = state.today_v(node.id) if node else None
    plates = [p.number for p in pins if p.electrodes & PLATES]
    return {p: f"≤ {volts(top)}" for p in plates} if top is not None and len(plates) == 1 else {}


def _measured(part: Part, pins: list[Pin]) -> tuple[dict[str, str], tuple[str, ...]]:
    """Readings on their pins; one that could mean several pins is not placed."""
    placed, unplaced = {}, []
    for name, electrodes in _READINGS:
        if name not in part.measured:
            continue
        said = f"{volts(part.measured[name])} measured"
        fitting = [p.number for p in pins if p.electrodes & electrodes]
        if len(fitting) == 1:
            placed[fitting[0]] = said
        else:
            unplaced.append(f"{name.removesuffix('_v')} {said}")
    return placed, tuple(unplaced)
