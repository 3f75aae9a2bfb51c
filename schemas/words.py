"""Controlled words: what a cell of such a column may say. A word that is needed and missing here is added here.

Columns whose words are the same in every table have them in `schemas/columns.py`.
"""

from pipeline.notation.kinds import NAMES

SOURCE_KINDS = ("maker's sheet", "handbook", "standard", "open dataset", "reference work",
                "work without sources", "practice")
"""From strong to weak, where two figures have one grade."""
BASES = (
    "octal", "loctal", "Mazda octal", "steel 8-pin", "side-contact", "acorn", "nuvistor", "subminiature",
    "miniature 7-pin", "noval", "decal", "septar", "magnoval", "novar", "duodecar", "rimlock", "B3G", "B9G", "B4",
    "B5", "B7", "UX-4", "UX-5", "UX-6", "UX-7", "WD-11 4-pin", "jumbo 4-pin", "giant 7-pin", "4-pin bayonet",
    "large 4-pin bayonet", "magnal 11-pin", "diheptal 12-pin", "special 6-pin (RV12P2000)", "special 8-pin (LS50)")
ENVELOPES = ("glass", "metal", "metal or glass", "metal-ceramic", "T-5 1/2 glass", "T-6 1/2 glass", "T-9 glass",
             "T-11 glass", "T-12 glass", "ST-12 glass", "ST-14 glass", "ST-16 glass")
SECTIONS = (
    "whole", "each", "triode", "triode 1", "triode 2", "pentode", "pentode 1", "pentode 2", "tetrode", "hexode",
    "heptode", "diode", "diode 1", "diode 2", "diode 3", "rectifier", "unit 1", "unit 2", "unit 3")
SECTION_KINDS = (
    "diode", "triode", "power triode", "tetrode", "beam tetrode", "pentode", "power pentode", "remote-cutoff pentode",
    "dual-control pentode", "hexode", "heptode", "pentagrid", "pentagrid converter", "tuning indicator",
    "voltage regulator", "glow")
SERVICES = (
    "class A1", "class A1 parallel", "class A1 pair", "class A dynamic-coupled", "class AB1 pair", "class AB2 pair",
    "class B pair", "rf", "converter", "mixer", "oscillator", "frequency doubler", "frequency trebler",
    "static", "test point", "regulated", "regulator at least current", "regulator at largest current")
CAPACITOR_ROLES = (
    "reservoir", "smoothing", "bias filter", "cathode bypass", "screen bypass", "coupling", "tone", "rf",
    "line to line", "line to chassis", "motor run", "motor start", "crossover", "snubber", "avc", "buffer",
    "antenna isolation", "feedback", "neutralizing", "oscillator")
LEADS = ("axial", "radial", "axial or radial", "axial or tags", "tags", "tags or wires",
         "radial; axial in the common values")
PLACES = (
    "tube", "reservoir", "reservoir, half-wave", "reservoir, selenium", "reservoir, tube rectifier", "node",
    "node, bias", "node, battery", "capacitor", "resistor", "choke", "heater winding", "secondary", "mains")
READINGS = ("dc_v", "ac_v", "ripple_v", "volts", "cathode_v", "grid_v", "heater_v", "plate_v", "screen_v", "ohms", "uf",
            "esr_ohm", "leakage_a")
CHANGES = ("value", "row added", "row removed", "column added", "column removed", "column redefined", "table added",
           "table removed")
"""What may have been done to a table between two versions; `value` is a cell that holds another one."""
GAPS = ("not known", "not stated", "does not apply")
"""What an empty cell of a wide table may mean."""

WORDS: dict[str, dict[str, tuple[str, ...]]] = {
    "sources": {"kind": SOURCE_KINDS},
    "releases": {"change": CHANGES},
    "tubes": {"base": BASES, "envelope": ENVELOPES},
    "basings": {"base": BASES},
    "sections": {"section": SECTIONS, "kind": SECTION_KINDS},
    "section_uses": {"section": SECTIONS},
    "operating_points": {"section": SECTIONS, "service": SERVICES},
    "resistance_coupled": {"section": SECTIONS},
    "rectifiers": {"kind": ("tube", "silicon", "selenium", "copper oxide")},
    "diodes": {"kind": ("silicon", "germanium", "selenium")},
    "lamps": {"base": ("E10", "BA9s")},
    "fuses": {"standard": ("IEC 60127", "UL 248-14")},
    "capacitor_roles": {"role": CAPACITOR_ROLES},
    "care": {"kind": NAMES},
    "stock_kinds": {"lead_style": LEADS},
    "resistor_stock": {"lead_style": LEADS},
    "causes": {"place": PLACES, "reading": READINGS},
    "open_diodes": {"kind": ("silicon", "schottky", "bridge")},
}
"""Table → column → its words; an empty cell is no word."""
