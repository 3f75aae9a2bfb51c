"""The commented texts of a new unit's files. Taking a `# ` off a line of key and value leaves a valid file."""

PARTS = "ref,marking,role,at,measured,note\n"
HEAD = """# What the bench knows about this unit. Volts are rms; everything after # is a comment.
# Lines such as `# key = value` are to be filled in: take the # away and write what you find.
name = "{name}"
"""
MAINS = """mains_v = {mains_v}            # at the outlet today
# mains_high_v = {high_v}     # the most the outlet ever gives; without it {of_region} is taken
mains_hz = {mains_hz}
{design}     # on the nameplate; without it the set is taken to be made for today's volts
"""
_SUPPLY = """
# The B+ supply; the refs are those of parts.csv.
# [[supply]]
# rectifier = "V5"
# circuit = "full-wave"       # half-wave, full-wave, bridge, doubler
# secondary_v = {secondary_v}           # each half, at nameplate mains
# secondary_ohm = {secondary_ohm}          # each half, measured cold
# primary_ohm = 12            # optional, measured cold
#
# [[supply.node]]
# id = "B1"                   # the reservoir
# capacitors = ["C1"]         # in series with a plus: "C1+C2"; of a can its section: "C1A"
# tubes = ["V4"]              # what draws here and has no stage below; or load_a = 0.080, in amperes
#
# [[supply.node]]
# id = "B2"
# from = "B1"
# through = "R1"              # the choke or resistor between them
# capacitors = ["C2"]
# load_a = 0.012
"""
WINDINGS = """
[[winding]]                   # a heater winding; tubes and lamps name it in their `at` column
id = "H1"
volts = 6.3
# amps = 3.0                  # its rating, or what the maker's own tubes drew

# A winding of the rectifier's own:
# [[winding]]
# id = "H2"
# volts = 5.0
""" + _SUPPLY
SINGLE = """
# What feeds each tube, and what stands in its leads:
# [[stage]]
# tubes = ["V4"]
# plate = "B1"
# plate_through = "T2"        # the output transformer
# screen = "B2"
# cathode_through = "R2"
# grid_through = "R3"
# service = "single-ended output"
"""
PUSH_PULL = """
# A bias supply, where the output tubes have fixed bias:
# [[supply]]
# id = "bias"
# polarity = "negative"
# rectifier = "D1"
# circuit = "half-wave"
# secondary_v = 50            # the tap or winding it stands on
#
# [[supply.node]]
# id = "C-"
# capacitors = ["C3"]
# load_ohm = 47000

# What feeds each tube, and what stands in its leads:
# [[stage]]
# tubes = ["V3", "V4"]        # a half as "V1A", a section as "V2 pentode"
# plate = "B1"
# plate_through = "T2"        # the output transformer
# screen = "B2"               # or "plate", or "plate 43 %" for a tap
# grid = "C-"                 # with cathode bias leave it out, and name cathode_through = "R2"
# grid_through = ["R3", "R4"]
# service = "push-pull"
"""
REGULATED = """
# A node that a glow-discharge tube holds:
# [[supply.node]]
# id = "B3"
# from = "B2"
# through = "R2"
# regulator = "V6"
# load_a = 0.008

# What feeds each tube, and what stands in its leads:
# [[stage]]
# tubes = ["V1A"]             # a half of a twin tube; a section as "V2 pentode"
# plate = "B3"
# plate_through = "R3"
# cathode_through = "R4"
"""
STRING = """
[[string]]                    # the series heaters; tubes name it in their `at` column
id = "S1"
amps = {string_a}                   # {string_types}
# order = {order}   # from the line side to the chassis side
# dropper = "R20"

# The B+ supply, straight from the line; the refs are those of parts.csv.
# [[supply]]
# rectifier = "V5"
# circuit = "half-wave"
# secondary_v = {line_v}           # the line, at nameplate volts
# secondary_ohm = 3           # the house wiring, about
# added_ohm = {surge_ohm}              # the surge resistor
#
# [[supply.node]]
# id = "B1"                   # the reservoir
# capacitors = ["C1A"]
# load_a = 0.040              # what draws here and has no stage below, in amperes
#
# [[supply.node]]
# id = "B2"
# from = "B1"
# through = "R1"
# capacitors = ["C1B"]
# load_a = 0.020

# What feeds each tube, and what stands in its leads:
# [[stage]]
# tubes = ["V4"]
# plate = "B1"
# plate_through = "T2"        # the output transformer
# screen = "B2"
# cathode_through = "R2"
# service = "single-ended output"
"""
BATTERY = """
[[winding]]                   # the filaments side by side; in series they are a [[string]]
id = "H1"
volts = 1.4
# amps = 0.25

[[supply]]
id = "A"
source = "battery"
volts = 1.5                   # on the battery's label
heats = "H1"

[[supply.node]]
id = "A1"

[[supply]]
id = "B+"
source = "battery"
volts = 90                    # on the battery's label
# ohms = 50                   # of the battery, where it is known

[[supply.node]]
id = "B1"
# capacitors = ["C1"]
# tubes = ["V4"]              # what draws here and has no stage below; or load_a = 0.008, in amperes

# What feeds each tube, and what stands in its leads:
# [[stage]]
# tubes = ["V4"]
# plate = "B1"
# plate_through = "T2"        # the output transformer
# screen = "B1"
# service = "single-ended output"
"""
VIBRATOR = """
[[winding]]                   # the heaters on the car's or the farm's battery
id = "H1"
volts = 6.3
# amps = 3.0

[[supply]]
source = "vibrator"
volts = 250                   # of the square wave at each half of the secondary
hertz = 115                   # how often it swings
# rectifier = "V5"            # a synchronous vibrator has none
# secondary_ohm = 200         # each half, measured cold

[[supply.node]]
id = "B1"                     # the reservoir
# capacitors = ["C1"]
# tubes = ["V4"]              # what draws here and has no stage below; or load_a = 0.050, in amperes

# What feeds each tube, and what stands in its leads:
# [[stage]]
# tubes = ["V4"]
# plate = "B1"
# plate_through = "T2"        # the output transformer
# screen = "B1"
# cathode_through = "R2"
# service = "single-ended output"
"""
