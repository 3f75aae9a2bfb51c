"""Every column of every table, described once.

A column has one name from the raw CSV to the JSON output. From this description come the typed reading of raw
cells, the pandera schema, the Parquet field notes, the data dictionary and `datapackage.json`.
"""

from dataclasses import dataclass

EVIDENCE = ("measured", "published", "quoted", "practice", "recalled")
"""Grades from strong to weak; `derived` figures take the weakest grade they rest on."""


@dataclass(frozen=True)
class Column:
    """One column: `kind` is `text`, `number`, `integer` or `boolean`; `low` and `high` bound what is plausible."""

    name: str
    meaning: str
    kind: str = "text"
    unit: str | None = None
    low: float | None = None
    high: float | None = None
    choices: tuple[str, ...] = ()
    example: str = ""


def _text(name: str, meaning: str, choices: tuple[str, ...] = (), example: str = "") -> Column:
    return Column(name, meaning, choices=choices, example=example)


def _number(name: str, unit: str, low: float, high: float, meaning: str, example: str = "") -> Column:
    return Column(name, meaning, "number", unit, low, high, example=example)


FUNCTIONS = (
    "triode", "twin triode", "power triode", "twin power triode", "tetrode", "remote-cutoff tetrode",
    "beam power tetrode", "power pentode", "pentode", "remote-cutoff pentode", "twin pentode",
    "pentagrid converter", "pentagrid amplifier", "octode", "triode-hexode", "triode-heptode", "triode-pentode",
    "triode + power pentode", "diode triode", "double diode", "double diode triode", "triple diode triode",
    "diode pentode", "double diode pentode", "double diode + power pentode", "diode", "twin power pentode",
    "triple triode", "tuning indicator",
    "voltage regulator", "full-wave rectifier", "half-wave rectifier", "twin half-wave rectifier",
    "damper diode", "gas rectifier", "rectifier + power pentode", "rectifier + beam power tetrode",
    "gate tetrode", "thyratron", "triode + diode", "triode + twin power pentode", "triode + power tetrode",
)

_COLUMNS = (
    _text("type", "catalogue name: the RETMA/EIA designation without hyphens, else the maker's", example="12AX7"),
    _text("function", "what the tube is", FUNCTIONS),
    _text("envelope", "bulb or shell", example="T-6 1/2 glass"),
    _text("base", "base or socket", example="noval"),
    _text("basing", "EIA basing code; joins to the pin map", example="9A"),
    _text("heating", "how the cathode is heated", ("heater", "filament", "cold")),
    _number("heater_v", "V", 0.5, 150, "rated heater or filament volts, all sections in series"),
    _number("heater_a", "A", 0.005, 12, "heater or filament current at heater_v"),
    _number("heater_tolerance_pct", "%", 1, 20, "permitted deviation of heater volts, plus or minus"),
    _number("warm_up_s", "s", 5, 60, "controlled heater warm-up time"),
    _number("heater_cathode_negative_max_v", "V", 10, 6000, "largest peak volts, heater negative to cathode"),
    _number("heater_cathode_positive_max_v", "V", 10, 1000, "largest peak volts, heater positive to cathode"),
    _text("rating_system", "how the limits are meant", ("design-centre", "design-maximum", "absolute")),
    _text("arrangement", "how a tapped heater is wired; the lower and upper limit are what one heater may draw by its "
          "sheet's test", ("series", "parallel", "lamp tap", "one half", "lower limit", "upper limit")),
    _text("pins", "pin map, pin:section_electrode", example="1:g1 2:k 3:h 4:h"),
    _text("section", "section of the tube; `each` for identical sections", example="pentode"),
    _text("kind", "kind of thing", example="silicon"),
    _number("plate_max_v", "V", 5, 10000, "largest plate volts"),
    _number("plate_dissipation_max_w", "W", 0.02, 500, "largest plate dissipation of the section"),
    _number("screen_max_v", "V", 5, 1500, "largest screen volts"),
    _number("screen_dissipation_max_w", "W", 0.01, 60, "largest screen dissipation"),
    _number("cathode_max_a", "A", 0.0005, 2, "largest dc cathode current"),
    _number("grid_circuit_max_ohm", "ohm", 1000, 3e7, "largest grid-circuit resistance, cathode bias"),
    _number("mu", "1", 0.3, 200, "amplification factor (grid to plate)"),
    _number("gm_s", "S", 1e-5, 0.06, "transconductance at the typical point"),
    _number("rp_ohm", "ohm", 50, 1e7, "plate resistance at the typical point"),
    _text("service", "kind of operation", example="class A1"),
    _number("plate_v", "V", 1, 5000, "plate volts"),
    _number("screen_v", "V", 1, 1500, "screen volts"),
    _number("bias_v", "V", -400, 30, "grid volts to cathode"),
    _number("cathode_ohm", "ohm", 1, 1e5, "cathode resistor"),
    _number("plate_a", "A", 1e-5, 3, "plate current at no signal"),
    _number("screen_a", "A", 1e-6, 1, "screen current at no signal"),
    _number("load_ohm", "ohm", 20, 1e6, "load"),
    _number("power_w", "W", 0.001, 1000, "output power"),
    _text("connection", "how the rectifier's plates or cells are arranged",
          ("full-wave", "half-wave", "two half-wave", "bridge", "doubler")),
    _number("piv_max_v", "V", 10, 50000, "largest peak inverse volts"),
    _number("plate_peak_max_a", "A", 0.0001, 20, "largest steady-state peak current of each plate"),
    _number("plate_transient_max_a", "A", 0.001, 100, "largest hot-switching transient current of each plate"),
    _number("dc_output_max_a", "A", 0.0001, 10, "largest dc output, capacitor input, at ac_plate_max_v"),
    _number("ac_plate_max_v", "V", 10, 20000, "largest ac volts of each plate, rms, capacitor input"),
    _number("drop_v", "V", 0.2, 200, "volts across the conducting tube at drop_at_a"),
    _number("drop_at_a", "A", 0.0005, 10, "plate current at which drop_v was read"),
    _number("supply_ohm_min", "ohm", 0, 2000, "smallest plate-supply impedance of each plate at ac_plate_max_v"),
    _number("input_capacitor_max_uf", "µF", 0.5, 2000, "largest first filter capacitor the maker names"),
    _text("input", "filter input", ("capacitor", "choke")),
    _number("ac_v", "V", 10, 20000, "ac volts of each plate, rms"),
    _number("dc_a", "A", 0.0001, 10, "dc output current"),
    _number("dc_v", "V", 5, 20000, "dc output volts at the filter input"),
    _number("supply_ohm", "ohm", 0, 2000, "plate-supply impedance of each plate"),
    _text("circuit", "rectifier circuit", ("half-wave", "full-wave", "bridge", "doubler", "half-wave doubler")),
    _number("capacitor_uf", "µF", 0.5, 2000, "first filter capacitor"),
    _number("frequency_hz", "Hz", 10, 1000, "mains frequency"),
    _text("designation", "another name of the type, as printed, without hyphens and blanks", example="ECC83"),
    _text("system", "who gave the name",
          ("RETMA", "European", "British", "military US", "CV", "industrial", "Russian", "Japanese", "maker")),
    _text("nearness", "`same`: every figure may be used; `near`: fits, but some figure differs", ("same", "near")),
    _text("substitute", "the other type"),
    _text("relation", "how the substitute stands to the type",
          ("drop-in", "conditional", "other base", "other heater", "not a substitute")),
    _text("condition", "what must hold"),
    _text("rule", "id of the audit rule that does not apply", example="retma-heater"),
    _text("reason", "why the rule does not apply, or why the value is corrected"),
    _number("lamp_v", "V", 0.5, 260, "rated lamp volts"),
    _number("lamp_a", "A", 0.01, 5, "lamp current at lamp_v"),
    _text("bulb", "bulb size", example="T-3 1/4"),
    _text("bead", "bead colour"),
    _number("forward_max_a", "A", 0.001, 500, "largest average forward current"),
    _number("surge_max_a", "A", 0.01, 5000, "largest single half-cycle surge current"),
    _text("standard", "standard", example="IEC 60127-2"),
    _text("speed", "fuse speed", ("FF", "F", "M", "T", "TT", "all")),
    _number("multiple", "1", 0.5, 20, "current as a multiple of the rated current"),
    _number("open_min_s", "s", 0, 1e6, "shortest time to open"),
    _number("open_max_s", "s", 0, 1e6, "longest time to open"),
    _text("series", "preferred-value series", ("E3", "E6", "E12", "E24", "E48", "E96")),
    _number("value", "1", 1, 1000, "mantissa"),
    _number("uf", "µF", 1e-6, 1e5, "capacitance"),
    _number("volts", "V", 1, 20000, "rated volts: ac for ac kinds, else dc"),
    _number("tolerance_pct", "%", 0.1, 100, "tolerance, plus or minus"),
    _number("temperature_c", "°C", 40, 200, "rated temperature"),
    _number("ripple_a", "A", 0.001, 50, "rated ripple current at 100 or 120 Hz"),
    _number("esr_ohm", "ohm", 0.001, 1000, "equivalent series resistance"),
    _text("safety_class", "IEC 60384-14 class", ("X1", "X2", "Y1", "Y2", "X1/Y1", "X1/Y2", "X", "Y")),
    _text("role", "what the part does in the unit", example="reservoir"),
    _text("kinds", "kinds of capacitor that may serve, `;` between them"),
    _text("polarised_allowed", "whether a polarised electrolytic may serve", ("yes", "no")),
    _text("replace", "when to replace an old part in this role", ("always", "if faulty", "leave")),
    _number("tolerance_low_pct", "%", -100, 0, "how far below the old value a new part may be"),
    _number("tolerance_high_pct", "%", 0, 300, "how far above the old value a new part may be"),
    _text("region", "mains region", example="North America"),
    _number("nominal_v", "V", 90, 420, "nominal mains volts, rms"),
    _number("low_v", "V", 80, 420, "lower limit at the service entrance, rms"),
    _number("high_v", "V", 90, 460, "upper limit at the service entrance, rms"),
    _text("old_part", "kind of old part", example="wax paper capacitor"),
    _text("part_kind", "kind of part it is", ("capacitor", "resistor", "rectifier")),
    _text("marks", "words in a marking or note that tell it, `;` between them", example="wax;waxed"),
    _number("replace_beyond_pct", "%", 0, 100, "replace where it measures further than this from its marking"),
    _number("consider_beyond_pct", "%", 0, 100, "consider it beyond this in bias, plate load and screen"),
    _number("drift_low_pct", "%", -100, 0, "how far such parts are found below their marking"),
    _number("drift_high_pct", "%", 0, 1000, "how far such parts are found above their marking"),
    _text("ageing", "how it ages"),
    _number("watts", "W", 0.05, 500, "rated watts"),
    _number("ohm_min", "ohm", 0.001, 1e6, "smallest stocked value"),
    _number("ohm_max", "ohm", 1, 1e9, "largest stocked value"),
    _text("lead_style", "how its leads come out", example="axial"),
    _text("plain", "the part in words a counter clerk knows"),
    _text("place", "where a reading is taken", example="reservoir"),
    _text("reading", "quantity that is read there", example="dc_v"),
    _text("direction", "how the reading lies to what was expected", ("low", "high")),
    _number("rank", "1", 0, 20, "likeliest first"),
    _text("cause", "what such a reading commonly comes from"),
    _text("measure_next", "what to measure to tell"),
    _text("way", "what the set is brought up with",
          ("series lamp", "variable transformer", "variable transformer, tube rectifier", "neither")),
    _number("step", "1", 1, 20, "number of the step"),
    _number("mains_pct", "%", 1, 110, "mains volts as a share of the nameplate's"),
    _number("wait_s", "s", 1, 86400, "how long to wait before the next step"),
    _number("series_ohm", "ohm", 10, 1e6, "resistor in series while re-forming"),
    _number("most_a", "A", 1e-6, 1, "largest current while re-forming"),
    _number("hold_s", "s", 1, 1e6, "time at full volts"),
    _text("code_system", "whose date code it is", ("IEC 60062 year", "IEC 60062 month", "EIA source code")),
    _text("code", "code as printed on the part"),
    _text("meaning", "what the code or the allowance stands for"),
    _text("symbol", "name of the symbol in the library", example="ECC83"),
    _text("symbol_unit", "part of the symbol that the pin is drawn on, 1 and up; 0 is every part"),
    _text("pin", "pin number, or cap"),
    _text("electrode", "electrode at the pin", example="k+g3"),
    _text("printed", "as the source prints it: a library's pin name or description, a value that is corrected"),
    _text("table", "table the row belongs to", example="tubes"),
    _text("subject", "key of the row, `/` between its cells", example="12AX7/each"),
    _text("column", "column of that table", example="heater_a"),
    _text("printed_in", "source id of the raw row whose cell is corrected"),
    _text("corrected", "what the cell should say; empty where only the printed value is known to be wrong"),
    _text("status", "whether the correction is taken", ("accepted", "proposed")),
    _text("source_id", "document the figure stands in", example="rca-receiving-tube-manual"),
    _text("locator", "page, sheet or clause"),
    _text("allowance", "what is allowed for, in words", example="tube spread"),
    Column("amount", "how much is allowed, in amount_unit", "number", None, 0.0001, 1000),
    _text("amount_unit", "unit of the amount; 1 for a plain ratio", ("V", "A", "%", "1", "s", "ohm")),
    _text("evidence", "how the figure was come by",
          ("published", "quoted", "practice", "recalled")),
    _text("note", "what a reader must know"),
    _text("title", "title of the document"),
    _text("publisher", "publisher or author"),
    _text("year", "year of publication", example="1962"),
    _text("edition", "edition, date or sheet number"),
    _text("licence", "licence under which the source may be used"),
    _text("found_at", "how a copy is found: document number, ISBN, archive, issue, name of an article or package",
          example="IEC 60062"),
)

COLUMNS: dict[str, Column] = {column.name: column for column in _COLUMNS}
"""Column name → description."""
