"""What to expect on each pin of a tube: only what was measured, or what the unit's own figures make certain."""

from collections.abc import Iterable, Mapping
from typing import NamedTuple

from pipeline.checks.check import Checked
from pipeline.output.sheet.words import volts
from pipeline.point.heaters import Heater, RatedHeater, heater_in_string, heater_on_winding, is_cold
from pipeline.point.heating import fed_with_dc, winding_volts
from pipeline.point.quantities import Quantity
from pipeline.unit import LETTERS, Part

HEATER_ENDS, HEATER_TAPS = {"h", "f"}, {"h_ct", "f_ct", "tap", "ct"}
PLATES, SCREENS = {"p", "a"}, {"g2"}
READINGS = (("plate_v", PLATES), ("screen_v", SCREENS), ("cathode_v", {"k"}), ("grid_v", {"g", "g1"}))
"""Reading → the electrodes whose volts to chassis it names."""
_FATAL = ("dissipation", "screen-dissipation", "bias", "plate-voltage", "screen-voltage", "cathode-current",
          "heater-voltage", "heater-string")
"""Checks whose stop means that the volts at a tube are those of a fault."""


class Pin(NamedTuple):
    """A pin's number, the electrodes on it, and the section they are of where the map names one."""

    number: str
    electrodes: frozenset[str]
    section: str | None = None


class Expected(NamedTuple):
    """Volts by pin in words; the heater's pins and volts; readings that several pins could mean."""

    pins: dict[str, str]
    heater_pins: str
    heater: str
    unplaced: tuple[str, ...]


def pins_of(rows: Iterable[Mapping[str, object]]) -> list[Pin]:
    """The pins of one type, in the order of the rows."""
    return [Pin(str(row["pin"]), frozenset(_bare(p) for p in str(row["electrode"]).split("+")),
                str(row["section"]) if row.get("section") else None) for row in rows]


def _bare(electrode: str) -> str:
    electrode = electrode.strip()
    return electrode if electrode in HEATER_TAPS else electrode.rpartition("_")[2]


def expected(part: Part, checked: Checked, rows: Iterable[Mapping[str, object]]) -> Expected:
    """What the meter should show on the pins of `part`.

    Every volt is the operating point's: a reading where there is one, else the band in which a meter should read. What
    a finding stops for is no target: it says so.
    """
    pins = pins_of(rows)
    heater_pins, heater = _heater(part, checked, pins)
    found = _heater_pins(heater_pins, heater) | _rectifier(part, checked, pins)
    placed, unplaced = _electrodes(part, checked, pins)
    return Expected(found | placed, heater_pins, heater, unplaced)


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
    unit = checked.unit
    if winding := unit.winding_of(part):
        found = winding_volts(winding.id, unit, checked.mains, checked.point.states, checked.point.quantities)
        said = f"{volts(found[0])} {heater_current(winding.id, checked)}" if found else ""
        return heater_on_winding(part, winding.volts), said
    string = unit.string_of(part)
    heater = heater_in_string(part, string.amps) if string else None
    wrong = any(f.check == "heater-string" and f.verdict in ("stop", "unknown") for f in checked.findings)
    return heater, f"about {volts(heater.volts.value)} AC" if heater and not wrong else ""


def heater_current(winding: str, checked: Checked) -> str:
    """`AC`, or `DC` where a heater winding is fed through a rectifier or the unit stands on batteries."""
    return "DC" if fed_with_dc(winding, checked.point.states) or checked.unit.mains_v is None else "AC"


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


def _electrodes(part: Part, checked: Checked, pins: list[Pin]) -> tuple[dict[str, str], tuple[str, ...]]:
    """The tube's electrodes on their pins; what could mean several pins is not placed."""
    placed: dict[str, str] = {}
    unplaced: list[str] = []
    for quantity in checked.point.quantities.at(part.ref):
        electrodes = dict(READINGS).get(quantity.quantity)
        said = band_words(quantity, stopped(quantity, checked)) if electrodes else ""
        if not electrodes or not said:
            continue
        fitting = [p.number for p in pins if p.electrodes & electrodes and of_section(p, quantity.section, pins)]
        if len(fitting) == 1:
            placed[fitting[0]] = said
        elif electrodes & {"k"} and not any("k" in p.electrodes for p in pins) and pins:
            continue  # the filament is its cathode
        elif quantity.value is not None:
            where = f"{quantity.section} " if quantity.section else ""
            unplaced.append(f"{where}{quantity.quantity.removesuffix('_v')} {said}")
    told = {q.quantity for q in checked.point.quantities.at(part.ref)}
    unplaced += [f"{name.removesuffix('_v')} {volts(value)} measured" for name, value in part.measured.items()
                 if name in dict(READINGS) and name not in told]
    return placed, tuple(unplaced)


def of_section(pin: Pin, section: str | None, pins: list[Pin]) -> bool:
    """Whether a pin is of a section: alike halves in the order of their pins, unlike ones by their first letter."""
    if section is None or pin.section is None:
        return True
    if section not in LETTERS:
        return pin.section == section[0]
    order = list(dict.fromkeys(p.section for p in sorted(pins, key=_number) if p.section))
    place = LETTERS.index(section)
    return place < len(order) and pin.section == order[place]


def _number(pin: Pin) -> float:
    return float(pin.number) if pin.number.isdigit() else 99.0


def stopped(quantity: Quantity, checked: Checked) -> bool:
    """Whether a finding stops the set for what stands at this tube's section: its volts are no target then."""
    return any(f.verdict == "stop" and f.subject in (quantity.place, quantity.at) and f.check in _FATAL
               for f in checked.findings)


def band_words(quantity: Quantity, bad: bool = False) -> str:
    """A quantity as its pin says it: what was measured, or the band to expect; nothing where it is not known."""
    if quantity.value is None or quantity.low is None or quantity.high is None:
        return ""
    if quantity.origin == "measured":
        return f"{volts(quantity.value)} measured"
    if bad:
        return "see the finding"
    low, high = volts(quantity.low), volts(quantity.high)
    return low if low == high else f"{low.removesuffix(' V')} to {high}"
