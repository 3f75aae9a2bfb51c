"""Every table: where its raw rows lie, its key, its columns, and which cells must come from one and the same row."""

from dataclasses import dataclass, replace
from functools import cached_property
from typing import NamedTuple

from schemas.columns import COLUMNS, Column
from schemas.words import WORDS

PROVENANCE = ("source_id", "locator", "evidence", "note")
CC0 = "CC0-1.0"
SHARE_ALIKE = "CC-BY-SA-4.0"


@dataclass(frozen=True)
class Table:
    """`key` names the subject of a row; `together` lists groups of cells that only mean something as a set.

    `limits` are cells that are one maker's set under one rating system: they stand together, see
    `pipeline.build.limits`. `givens` are what a row was set to beside its key: rows of one source that differ in them
    are different points, not different observations, see `pipeline.build.points`.
    """

    name: str
    family: str
    key: tuple[str, ...]
    columns: tuple[str, ...]
    required: tuple[str, ...]
    meaning: str
    together: tuple[tuple[str, ...], ...] = ()
    observed: bool = True
    licence: str = CC0
    limits: tuple[str, ...] = ()
    givens: tuple[str, ...] = ()

    @property
    def apart(self) -> bool:
        """Whether the table is another's work under its own licence, never merged into the CC0 tables."""
        return self.licence != CC0

    @cached_property
    def values(self) -> tuple[str, ...]:
        """Columns that hold observations: neither key nor provenance."""
        return tuple(c for c in self.columns if c not in self.key and c not in PROVENANCE)

    @cached_property
    def described(self) -> tuple[Column, ...]:
        """The table's columns, each with the words that this table allows it."""
        words = WORDS.get(self.name, {})
        return tuple(replace(COLUMNS[name], choices=words[name]) if name in words else COLUMNS[name]
                     for name in self.columns)

    def column(self, name: str) -> Column:
        """One of the table's columns; raises KeyError."""
        return {column.name: column for column in self.described}[name]


def _table(name: str, family: str, key: str, values: str, meaning: str, *, required: str = "",
           together: tuple[str, ...] = (), licence: str = CC0, limits: str = "", givens: str = "") -> Table:
    keys = tuple(key.split())
    columns = (*keys, *values.split(), *PROVENANCE)
    must = (*keys, *required.split(), "source_id", "evidence")
    return Table(name, family, keys, columns, must, meaning, tuple(tuple(g.split()) for g in together),
                 licence=licence, limits=tuple(limits.split()), givens=tuple(givens.split()))


_HEATER_CATHODE = ("heater_cathode_negative_max_v heater_cathode_negative_dc_max_v heater_cathode_positive_max_v "
                   "heater_cathode_positive_dc_max_v heater_cathode_pulse_max_v heater_cathode_max_ohm")
_SECTION_LIMITS = (
    "plate_max_v plate_supply_max_v plate_cold_max_v plate_pulse_max_v plate_dissipation_max_w "
    "plate_dissipation_signal_max_w plates_dissipation_max_w screen_max_v screen_supply_max_v screen_cold_max_v "
    "screen_dissipation_max_w screen_dissipation_signal_max_w cathode_max_a cathode_peak_max_a plate_max_a "
    "plate_peak_max_a piv_max_v grid_negative_max_v grid_circuit_max_ohm grid_circuit_fixed_max_ohm "
    "grid_circuit_leak_max_ohm")
_USE_LIMITS = ("plate_max_v plate_pulse_max_v plate_dissipation_max_w screen_max_v screen_dissipation_max_w "
               "cathode_max_a cathode_peak_max_a")
_POINT = ("supply_v screen_v screen_supply_v screen_ohm bias_v cathode_ohm grid_ohm plate_a screen_a plate_signal_a "
          "screen_signal_a load_ohm screen_tap_pct signal_v signal_peak_v power_w distortion_pct mu gm_s rp_ohm "
          "conversion_gm_s oscillator_v oscillator_grid_a oscillator_grid_ohm")
_RECTIFIER_LIMITS = ("piv_max_v piv_pulse_max_v plate_peak_max_a plate_transient_max_a dc_output_max_a "
                     "ac_plate_max_v supply_ohm_min input_capacitor_max_uf input_capacitor_meaning")


SOURCES = Table(
    "sources", "", ("source_id",),
    ("source_id", "title", "publisher", "year", "edition", "kind", "licence", "found_at"),
    ("source_id", "title", "kind"), "the documents the figures stand in", observed=False)

CORRECTIONS = Table(
    "corrections", "", ("table", "subject", "column", "printed_in"),
    ("table", "subject", "column", "printed_in", "printed", "corrected", "status", "reason", *PROVENANCE),
    ("table", "subject", "column", "printed_in", "printed", "status", "reason", "source_id", "evidence"),
    "printed values that are known to be wrong; source, locator and evidence are those of the right value",
    observed=False)

RELEASES = Table(
    "releases", "", ("version", "table", "change"), ("version", "released", "table", "change", "count", "what"),
    ("version", "released", "table", "change", "count"),
    "what each version of the tables changed against the one before", observed=False)

TABLES: dict[str, Table] = {table.name: table for table in (
    SOURCES, CORRECTIONS, RELEASES,
    _table("tubes", "tubes", "type",
           "function envelope base basing heating heater_v heater_a heater_tolerance_pct heater_a_tolerance_pct "
           f"heater_series_v warm_up_s {_HEATER_CATHODE} rating_system",
           "one tube type a row: what it is, its base and its heater", together=("heater_v heater_a",),
           limits=_HEATER_CATHODE),
    _table("heater_options", "tubes", "type arrangement", "heater_v heater_a heater_series_v pins",
           "arrangements of a tapped heater, and the limits of its current", together=("heater_v heater_a pins",)),
    _table("basings", "tubes", "basing", "base pins", "one pin map for each basing code", required="pins"),
    _table("tube_pins", "tubes", "type", "pins", "pin maps of types without a basing code", required="pins"),
    _table("sections", "tubes", "type section",
           f"kind {_SECTION_LIMITS} rating_system mu mu_screen gm_s conversion_gm_s rp_ohm",
           "limits and characteristics of each section", limits=_SECTION_LIMITS),
    _table("section_uses", "tubes", "type section use",
           f"condition {_USE_LIMITS} rating_system mu gm_s rp_ohm",
           "limits and characteristics that a section has in one use only", limits=_USE_LIMITS),
    _table("operating_points", "tubes", "type section service plate_v",
           f"connected heater_arrangement tube_count {_POINT}",
           "typical operation", together=(_POINT,),
           givens="connected heater_arrangement tube_count supply_v screen_v screen_supply_v screen_ohm bias_v "
                  "cathode_ohm load_ohm"),
    _table("resistance_coupled", "tubes", "type section supply_v load_ohm next_grid_ohm",
           "connected purpose cathode_ohm screen_ohm grid_ohm plate_a screen_a cathode_a gain output_v output_peak_v "
           "distortion_pct", "resistance-coupled stages as makers laid them out; load_ohm is the plate resistor",
           together=("cathode_ohm screen_ohm grid_ohm plate_a screen_a cathode_a gain output_v output_peak_v "
                     "distortion_pct",),
           givens="connected purpose cathode_ohm screen_ohm grid_ohm"),
    _table("common_types", "tubes", "type", "why", "the types met most often, of which every limit that a rule uses "
           "should be there", required="why"),
    _table("regulators", "tubes", "type",
           "start_v operating_v operating_low_v operating_high_v regulation_v least_a greatest_a start_max_a "
           "shunt_capacitor_max_uf", "glow-discharge voltage regulators"),
    _table("barretters", "tubes", "type", "regulated_a range_low_v range_high_v",
           "current regulators of heater strings", together=("regulated_a range_low_v range_high_v",)),
    _table("ballasts", "tubes", "type", "ballast_a ballast_v ballast_ohm lamp_count lamp_type pins",
           "ballast tubes of heater strings", together=("ballast_a ballast_v ballast_ohm",)),
    _table("ntc_rods", "parts", "type", "cold_ohm cold_low_ohm cold_high_ohm hot_ohm rod_a greatest_a",
           "resistors that start high and fall as they warm, in heater strings", together=("hot_ohm rod_a",)),
    _table("designations", "tubes", "designation type", "system nearness", "other names of a type",
           required="system nearness"),
    _table("designation_exceptions", "tubes", "type rule", "reason", "types an audit rule does not fit",
           required="reason"),
    _table("substitutes", "tubes", "type substitute", "relation condition", "what may stand in for a type",
           required="relation"),
    _table("rectifiers", "rectifiers", "type",
           "kind connection piv_max_v piv_pulse_max_v plate_peak_max_a plate_transient_max_a dc_output_max_a "
           "ac_plate_max_v drop_v drop_at_a supply_ohm_min input_capacitor_max_uf input_capacitor_meaning "
           "rating_system",
           "ratings of rectifiers", limits=_RECTIFIER_LIMITS,
           together=("drop_v drop_at_a", "dc_output_max_a ac_plate_max_v supply_ohm_min",
                     "input_capacitor_max_uf input_capacitor_meaning")),
    _table("rectifier_ratings", "rectifiers", "type input ac_v", "dc_a supply_ohm capacitor_uf choke_h rating_system",
           "corner points of rating charts: with this capacitor and these ohms the maker allows that output",
           together=("dc_a supply_ohm capacitor_uf choke_h",)),
    _table("rectifier_operation", "rectifiers", "type circuit input ac_v dc_a",
           "supply_ohm capacitor_uf choke_h dc_v frequency_hz", "published typical operation and points of operation "
           "charts", together=("supply_ohm capacitor_uf choke_h dc_v frequency_hz",)),
    _table("rectifier_curves", "rectifiers", "type drop_v", "drop_at_a",
           "drop curve of one plate: the current at these volts across the conducting tube", required="drop_at_a"),
    _table("rectifier_efficiency", "rectifiers", "type rectification_efficiency", "dc_a plate_peak_max_a",
           "rating charts that give the largest dc output, capacitor input, for a rectification efficiency",
           required="dc_a"),
    _table("lamps", "parts", "type", "lamp_v lamp_a base bulb bead", "pilot lamps",
           together=("lamp_v lamp_a",)),
    _table("diodes", "parts", "type", "kind piv_max_v forward_max_a surge_max_a drop_v drop_at_a",
           "silicon and selenium rectifiers", together=("drop_v drop_at_a",)),
    _table("fuses", "parts", "standard speed rated_range multiple", "open_min_s open_max_s", "fuse time gates"),
    _table("preferred_values", "parts", "series value", "", "preferred numbers"),
    _table("capacitor_stock", "parts", "kind uf volts safety_class",
           "tolerance_pct temperature_c ripple_a esr_ohm", "capacitors commonly stocked"),
    _table("capacitor_roles", "parts", "role",
           "kinds polarised_allowed safety_class replace tolerance_low_pct tolerance_high_pct",
           "what a capacitor's role asks of it", required="kinds polarised_allowed"),
    _table("regions", "mains", "region", "nominal_v low_v high_v frequency_hz", "mains regions",
           required="nominal_v frequency_hz"),
    _table("allowances", "checks", "allowance", "amount amount_unit meaning",
           "what the rules allow: margins, spreads and tolerances that no single type's sheet states",
           required="amount amount_unit meaning", together=("amount amount_unit meaning",)),
    _table("old_parts", "bench", "old_part",
           "part_kind marks replace replace_beyond_pct consider_beyond_pct drift_low_pct drift_high_pct ageing",
           "kinds of old part: how they are told, how they age, when to replace them", required="part_kind replace"),
    _table("resistor_stock", "bench", "kind watts", "series tolerance_pct volts ohm_min ohm_max lead_style",
           "resistors commonly stocked", required="series volts ohm_min ohm_max"),
    _table("stock_kinds", "bench", "kind", "plain lead_style", "stocked kinds in plain words", required="plain"),
    _table("causes", "bench", "place reading direction rank", "cause measure_next",
           "what a reading out of band commonly comes from, and what to measure next", required="cause measure_next"),
    _table("bringup_steps", "bench", "way step", "mains_pct wait_s", "steps of a first power-up", required="wait_s"),
    _table("reforming", "bench", "volts", "series_ohm most_a hold_s",
           "re-forming of stored electrolytics rated up to these volts", required="series_ohm most_a hold_s"),
    _table("care", "bench", "kind task", "how uses expect never replace buy counter",
           "what to do about a part of each kind, with what, what to expect, what never to do, and what to buy",
           required="how"),
    _table("chemicals", "bench", "chemical", "serves never counter pack",
           "what is bought once for a whole order: fluids, oil and the like", required="serves never counter"),
    _table("date_codes", "bench", "code_system code", "meaning", "date and maker codes on parts", required="meaning"),
    _table("open_pins", "open/kicad", "symbol symbol_unit pin", "printed electrode",
           "pins of the valve symbols of the KiCad library", required="printed electrode", licence=SHARE_ALIKE),
    _table("open_diodes", "open/kicad", "symbol", "printed kind piv_max_v ac_v forward_max_a",
           "ratings in the descriptions of the KiCad library's diodes and bridges", required="printed kind",
           licence=SHARE_ALIKE),
)}
"""Table name → description, in the order in which they are built."""



class Link(NamedTuple):
    """A column whose cells name rows of `table` by its column `target`."""

    column: str
    table: str
    target: str


_TUBE, _RECTIFIER, _KIND = (Link(*x) for x in (
    ("type", "tubes", "type"), ("type", "rectifiers", "type"), ("kind", "stock_kinds", "kind")))
LINKS: dict[str, tuple[Link, ...]] = {
    **dict.fromkeys(("heater_options", "sections", "section_uses", "operating_points", "resistance_coupled",
                     "designations", "regulators", "barretters", "ballasts", "common_types"), (_TUBE,)),
    "substitutes": (_TUBE, Link("substitute", "tubes", "type")),
    **dict.fromkeys(("rectifier_ratings", "rectifier_operation", "rectifier_curves", "rectifier_efficiency"),
                    (_RECTIFIER,)),
    "capacitor_stock": (_KIND,), "resistor_stock": (_KIND,),
}
"""Table → what its columns name in other tables; the build refuses a row that names nothing."""

OPTIONAL_KEYS = {"safety_class", "section", "plate_v", "next_grid_ohm"}
"""Key columns that may be empty (a stocked capacitor without a safety class, say)."""
