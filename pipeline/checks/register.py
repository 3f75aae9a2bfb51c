"""The register of rules: each names its check and the function that measures a unit's operating point for it."""

from pipeline.checks import capacitors, first_capacitor, insulation, rectifier, resistors, ripple, safety, stages
from pipeline.checks.rule import Rule

RULES = (
    Rule("rectifier-inverse", rectifier.inverse),
    Rule("rectifier-peak", rectifier.peak),
    Rule("rectifier-transient", rectifier.transient),
    Rule("rectifier-output", rectifier.output),
    Rule("winding-current", rectifier.winding),
    Rule("largest-input-capacitor", first_capacitor.largest_input_capacitor),
    Rule("plate-voltage", stages.plate_voltage),
    Rule("screen-voltage", stages.screen_voltage),
    Rule("dissipation", stages.dissipation),
    Rule("screen-dissipation", stages.screen_dissipation),
    Rule("cathode-current", stages.cathode_current),
    Rule("grid-circuit", stages.grid_circuit),
    Rule("bias", stages.bias),
    Rule("reading", stages.reading),
    Rule("resistor-power", resistors.resistor_power),
    Rule("choke-current", resistors.choke_current),
    Rule("heater-cathode", insulation.heater_cathode),
    Rule("capacitor-kind", capacitors.capacitor_kind),
    Rule("capacitor-voltage", capacitors.capacitor_voltage),
    Rule("capacitor-ripple", ripple.capacitor_ripple),
    Rule("leakage-current", safety.leakage),
    Rule("stored-energy", safety.stored),
    Rule("fuse", safety.fuse),
)
"""In the order in which findings of one gravity are told."""
