"""Rules between rows and about what figures mean: one bad case each, and the same case mended.

Heater figures and ratings are recalled; they only have to be of the right size.
"""

USUAL = {"source_id": "book", "evidence": "recalled", "nearness": "same", "system": "RETMA", "relation": "other heater",
         "kind": None}
BOOK = {"title": "A Book", "kind": "handbook"}
TRIODE = "1:t2_p 2:t2_g 3:t2_k 4:h 5:h 6:t1_p 7:t1_g 8:t1_k 9:h_ct"
PENTODE = "2:g1 3:k+g3 4:h 5:h 7:p 9:g2"
TUBE = {"type": "6BQ5", "function": "power pentode", "base": "noval", "heating": "heater", "heater_v": 6.3,
        "heater_a": 0.76}
TWIN = {"type": "12AX7", "function": "twin triode", "base": "noval", "basing": "9A", "heating": "heater",
        "heater_v": 12.6, "heater_a": 0.15}
OTHER = TUBE | {"type": "7189"}
SECTION = {"type": "6BQ5", "section": "whole", "kind": "power pentode", "plate_max_v": 300.0,
           "plate_dissipation_max_w": 12.0, "screen_max_v": 300.0, "screen_dissipation_max_w": 2.0,
           "cathode_max_a": 0.065}
POINT = {"type": "6BQ5", "section": "whole", "service": "class A1", "plate_v": 250.0, "screen_v": 250.0,
         "bias_v": -7.3, "cathode_ohm": 135.0, "plate_a": 0.048, "screen_a": 0.0055, "load_ohm": 5200.0, "power_w": 5.7}
RECTIFIER = {"type": "5Y3GT", "kind": "tube", "connection": "full-wave", "piv_max_v": 1400.0, "plate_peak_max_a": 0.4,
             "plate_transient_max_a": 2.2, "dc_output_max_a": 0.125, "ac_plate_max_v": 350.0}
RATING = {"type": "5Y3GT", "input": "choke", "ac_v": 500.0}
FIVE = {"type": "5Y3GT", "function": "full-wave rectifier", "base": "octal", "heating": "filament", "heater_v": 5.0,
        "heater_a": 2.0}

CASES = {
    # rule: (bad tables, (table, line, column) that is named, mended tables)
    "source-unknown": ({"tubes": [TUBE | {"source_id": "bok"}]}, ("tubes", 2, "source_id"), {"tubes": [TUBE]}),
    "published-nowhere": ({"tubes": [TUBE | {"evidence": "published"}]}, ("tubes", 2, "locator"),
                          {"tubes": [TUBE | {"evidence": "published", "locator": "page 1"}]}),
    "published-by-many": ({"sources": [BOOK | {"publisher": "several makers"}],
                           "tubes": [TUBE | {"evidence": "published", "locator": "page 1"}]}, ("tubes", 2, "evidence"),
                          {"sources": [BOOK | {"publisher": "several makers"}], "tubes": [TUBE | {"evidence": "quoted"}]}),
    "type-unknown": ({"tubes": [TUBE], "sections": [SECTION | {"type": "6BQ"}]}, ("sections", 2, "type"),
                     {"tubes": [TUBE], "sections": [SECTION]}),
    "link-unknown": ({"tubes": [FIVE], "rectifier_ratings": [RATING]}, ("rectifier_ratings", 2, "type"),
                     {"tubes": [FIVE], "rectifiers": [RECTIFIER], "rectifier_ratings": [RATING]}),
    "type-stroke": ({"tubes": [TUBE | {"type": "IW4/350"}]}, ("tubes", 2, "type"),
                    {"tubes": [TUBE | {"type": "IW4350"}]}),
    "name-taken": ({"tubes": [TUBE, TUBE | {"type": "7189"}], "designations": [
        {"designation": "6BQ5", "type": "7189"}]}, ("designations", 2, "designation"),
        {"tubes": [TUBE], "designations": [{"designation": "EL84", "type": "6BQ5"}]}),
    "name-of-two": ({"tubes": [TUBE, TUBE | {"type": "6CH6"}], "designations": [
        {"designation": "EL-84", "type": "6BQ5"}, {"designation": "EL84", "type": "6CH6"}]},
        ("designations", 3, "designation"),
        {"tubes": [TUBE, TUBE | {"type": "6CH6"}], "designations": [
            {"designation": "EL84", "type": "6BQ5"}, {"designation": "EL84", "type": "6CH6", "nearness": "near"}]}),
    "name-own": ({"tubes": [TUBE], "designations": [{"designation": "6BQ5", "type": "6BQ5"}]},
                 ("designations", 2, "designation"), {"tubes": [TUBE]}),
    "name-a-word": ({"tubes": [TUBE], "designations": [{"designation": "checked", "type": "6BQ5"}]},
                    ("designations", 2, "designation"),
                    {"tubes": [TUBE], "designations": [{"designation": "BH", "type": "6BQ5"}]}),
    "name-twice": ({"tubes": [TUBE], "designations": [
        {"designation": "EL84", "type": "6BQ5"}, {"designation": "EL-84", "type": "6BQ5"}]},
        ("designations", 3, "designation"),
        {"tubes": [TUBE], "designations": [{"designation": "EL84", "type": "6BQ5"},
                                                      {"designation": "EL84", "type": "6BQ5", "locator": "page 2"}]}),
    "own-substitute": ({"tubes": [TUBE], "substitutes": [{"type": "6BQ5", "substitute": "6-BQ5"}]},
                       ("substitutes", 2, "substitute"),
                       {"tubes": [TUBE, OTHER], "substitutes": [{"type": "6BQ5", "substitute": "7189"}]}),
    "substitute-contradiction": ({"tubes": [TUBE, OTHER], "substitutes": [
        {"type": "6BQ5", "substitute": "7189", "relation": "drop-in"},
        {"type": "6BQ5", "substitute": "7189", "relation": "not a substitute", "locator": "page 2"}]}, ("substitutes", 3, "relation"),
        {"tubes": [TUBE, OTHER],
         "substitutes": [{"type": "6BQ5", "substitute": "7189", "relation": "drop-in"},
                         {"type": "7189", "substitute": "6BQ5", "relation": "not a substitute"}]}),
    "pin-unreadable": ({"basings": [{"basing": "9A", "pins": "1-p 2:g"}]}, ("basings", 2, "pins"),
                       {"basings": [{"basing": "9A", "pins": TRIODE}]}),
    "pin-twice": ({"basings": [{"basing": "9A", "pins": "1:p 1:g"}]}, ("basings", 2, "pins"),
                  {"basings": [{"basing": "9A", "pins": "1:p+g"}]}),
    "two-maps": ({"basings": [{"basing": "9A", "pins": TRIODE},
                              {"basing": "9A", "pins": PENTODE, "locator": "page 2"}]},
                 ("basings", 3, "pins"),
                 {"basings": [{"basing": "9A", "pins": TRIODE},
                              {"basing": "9A", "pins": " ".join(reversed(TRIODE.split())), "locator": "page 2"}]}),
    "retma-heater": ({"tubes": [TUBE | {"heater_v": 5.0}]}, ("tubes", 2, "heater_v"), {"tubes": [TUBE]}),
    "european-heater": ({"tubes": [TUBE | {"type": "PL84", "heater_v": 15.0, "heater_a": 0.76}]},
                        ("tubes", 2, "heater_a"),
                        {"tubes": [TUBE | {"type": "PL84", "heater_v": 15.0, "heater_a": 0.3}]}),
    "european-base": ({"tubes": [TUBE | {"type": "EL34"}]}, ("tubes", 2, "base"),
                      {"tubes": [TUBE | {"type": "EL34", "base": "octal"},
                                 TUBE | {"type": "EL183"}]}),
    "european-function": ({"tubes": [TUBE | {"type": "ECL80", "heater_a": 0.3}]}, ("tubes", 2, "function"),
                          {"tubes": [TUBE | {"type": "ECL80", "function": "triode + power pentode"}]}),
    "pin-beyond-base": ({"basings": [{"basing": "7X", "base": "miniature 7-pin", "pins": PENTODE}]},
                        ("basings", 2, "pins"), {"basings": [{"basing": "9X", "base": "noval", "pins": PENTODE}]}),
    "pins-incomplete": ({"tubes": [TUBE], "tube_pins": [{"type": "6BQ5", "pins": PENTODE.replace("5:h ", "")}]},
                        ("tube_pins", 2, "pins"), {"tubes": [TUBE], "tube_pins": [{"type": "6BQ5", "pins": PENTODE}]}),
    "pins-against-function": ({"tubes": [TUBE | {"basing": "9A"}], "basings": [{"basing": "9A", "pins": TRIODE}]},
                              ("tubes", 2, "basing"),
                              {"tubes": [TWIN], "basings": [{"basing": "9A", "pins": TRIODE}]}),
    "pins-against-code": ({"tubes": [TWIN], "basings": [{"basing": "9A", "pins": TRIODE}],
                           "tube_pins": [{"type": "12AX7", "pins": TRIODE.replace("9:h_ct", "9:is")}]},
                          ("tube_pins", 2, "pins"),
                          {"tubes": [TWIN], "basings": [{"basing": "9A", "pins": TRIODE}],
                           "tube_pins": [{"type": "12AX7", "pins": TRIODE}]}),
    "base-against-code": ({"tubes": [TWIN | {"base": "octal"}], "basings": [{"basing": "9A", "base": "noval",
                                                                            "pins": TRIODE}]}, ("tubes", 2, "basing"),
                          {"tubes": [TWIN], "basings": [{"basing": "9A", "base": "noval", "pins": TRIODE}]}),
    "heater-pins": ({"tubes": [TWIN], "basings": [{"basing": "9A", "pins": TRIODE}], "heater_options": [
        {"type": "12AX7", "arrangement": "parallel", "heater_v": 6.3, "heater_a": 0.3, "pins": "4+5-8"}]},
        ("heater_options", 2, "pins"),
        {"tubes": [TWIN], "basings": [{"basing": "9A", "pins": TRIODE}], "heater_options": [
            {"type": "12AX7", "arrangement": "parallel", "heater_v": 6.3, "heater_a": 0.3, "pins": "4+5-9"}]}),
    "heater-watts": ({"tubes": [TUBE | {"function": "pentode", "heater_a": 3.0}]}, ("tubes", 2, "heater_a"),
                     {"tubes": [TUBE | {"function": "pentode", "heater_a": 0.3}]}),
    "heater-options-watts": ({"tubes": [TWIN], "heater_options": [
        {"type": "12AX7", "arrangement": "parallel", "heater_v": 6.3, "heater_a": 0.15}]},
        ("heater_options", 2, "heater_a"),
        {"tubes": [TWIN], "heater_options": [
            {"type": "12AX7", "arrangement": "parallel", "heater_v": 6.3, "heater_a": 0.3},
            {"type": "12AX7", "arrangement": "one half", "heater_v": 6.3, "heater_a": 0.15}]}),
    "plate-watts": ({"tubes": [TUBE], "sections": [SECTION | {"plate_dissipation_max_w": 120.0}]},
                    ("sections", 2, "plate_dissipation_max_w"), {"tubes": [TUBE], "sections": [SECTION]}),
    "screen-watts": ({"tubes": [TUBE], "sections": [SECTION | {"screen_dissipation_max_w": 20.0}]},
                     ("sections", 2, "screen_dissipation_max_w"), {"tubes": [TUBE], "sections": [SECTION]}),
    "mu-gm-rp": ({"tubes": [TUBE], "sections": [{"type": "6BQ5", "section": "whole", "mu": 20.0, "gm_s": 0.0026,
                                                 "rp_ohm": 77000.0}]}, ("sections", 2, "mu"),
                 {"tubes": [TUBE], "sections": [{"type": "6BQ5", "section": "whole", "mu": 20.0, "gm_s": 0.0026,
                                                 "rp_ohm": 7700.0}]}),
    "plate-dissipation": ({"tubes": [TUBE], "sections": [SECTION | {"cathode_max_a": None}],
                           "operating_points": [POINT | {"plate_a": 0.07, "bias_v": None}]},
                          ("operating_points", 2, "plate_a"),
                          {"tubes": [TUBE], "sections": [SECTION], "operating_points": [POINT]}),
    "screen-dissipation": ({"tubes": [TUBE], "sections": [SECTION | {"cathode_max_a": None}],
                            "operating_points": [POINT | {"screen_a": 0.0155, "bias_v": None}]},
                           ("operating_points", 2, "screen_a"),
                           {"tubes": [TUBE], "sections": [SECTION], "operating_points": [POINT]}),
    "plate-volts": ({"tubes": [TUBE], "sections": [SECTION], "operating_points": [
        POINT | {"plate_v": 310.0, "plate_a": 0.03, "bias_v": None, "power_w": None}]},
        ("operating_points", 2, "plate_v"),
        {"tubes": [TUBE], "sections": [SECTION], "operating_points": [
            POINT | {"plate_v": 300.0, "plate_a": 0.03, "bias_v": None, "power_w": None}]}),
    "screen-volts": ({"tubes": [TUBE], "sections": [SECTION], "operating_points": [POINT | {"screen_v": 310.0}]},
                     ("operating_points", 2, "screen_v"),
                     {"tubes": [TUBE], "sections": [SECTION], "operating_points": [POINT]}),
    "cathode-current": ({"tubes": [TUBE], "sections": [SECTION | {"cathode_max_a": 0.05}],
                         "operating_points": [POINT]}, ("operating_points", 2, "plate_a"),
                        {"tubes": [TUBE], "sections": [SECTION], "operating_points": [POINT]}),
    "cathode-bias": ({"tubes": [TUBE], "operating_points": [POINT | {"cathode_ohm": 1350.0, "power_w": None}]},
                     ("operating_points", 2, "cathode_ohm"),
                     {"tubes": [TUBE], "operating_points": [POINT, POINT | {"service": "class AB1 pair",
                                                                            "plate_a": 0.072, "screen_a": 0.008,
                                                                            "cathode_ohm": 130.0, "bias_v": -10.4}]}),
    "output-power": ({"tubes": [TUBE], "operating_points": [POINT | {"power_w": 17.0}]},
                     ("operating_points", 2, "power_w"),
                     {"tubes": [TUBE], "operating_points": [POINT, POINT | {"service": "class AB1 pair",
                                                                            "power_w": 17.0, "bias_v": None}]}),
    "load": ({"tubes": [TUBE], "operating_points": [POINT | {"load_ohm": 520.0}]}, ("operating_points", 2, "load_ohm"),
             {"tubes": [TUBE], "operating_points": [POINT]}),
    "bias-volts": ({"tubes": [TUBE], "operating_points": [
        POINT | {"bias_v": -73.0, "cathode_ohm": None}]}, ("operating_points", 2, "bias_v"),
        {"tubes": [TUBE], "operating_points": [POINT]}),
    "screen-share": ({"tubes": [TUBE], "sections": [SECTION], "operating_points": [
        POINT | {"screen_a": 0.00055, "bias_v": None}]}, ("operating_points", 2, "screen_a"),
        {"tubes": [TUBE], "sections": [SECTION], "operating_points": [POINT]}),
    "slope-per-ampere": ({"tubes": [TUBE], "sections": [{"type": "6BQ5", "section": "whole", "gm_s": 0.0113}],
                          "operating_points": [{"type": "6BQ5", "section": "whole", "service": "class A1", "plate_v": 250.0,
                                                "plate_a": 0.0005}]}, ("operating_points", 2, "plate_a"),
                         {"tubes": [TUBE], "sections": [{"type": "6BQ5", "section": "whole", "gm_s": 0.0113}],
                          "operating_points": [POINT]}),
    "ten-times": ({"tubes": [TUBE, TUBE | {"type": "6BQ5A"}], "sections": [
        {"type": "6BQ5", "section": "whole", "gm_s": 0.0113}, {"type": "6BQ5A", "section": "whole", "gm_s": 0.00113}]},
        ("sections", 3, "gm_s"),
        {"tubes": [TUBE, TUBE | {"type": "6BQ5A"}], "sections": [
            {"type": "6BQ5", "section": "whole", "gm_s": 0.0113},
            {"type": "6BQ5A", "section": "whole", "gm_s": 0.012}]}),
    "other-heater-sections": ({
        "tubes": [TUBE, TUBE | {"type": "15XX5", "heater_v": 15.0, "heater_a": 0.3}],
        "substitutes": [{"type": "6BQ5", "substitute": "15XX5"}],
        "sections": [SECTION, SECTION | {"type": "15XX5", "plate_dissipation_max_w": 9.0}]},
        ("sections", 3, "plate_dissipation_max_w"),
        {"tubes": [TUBE, TUBE | {"type": "15XX5", "heater_v": 15.0, "heater_a": 0.3}],
         "substitutes": [{"type": "6BQ5", "substitute": "15XX5"}],
         "sections": [SECTION, SECTION | {"type": "15XX5", "plate_dissipation_max_w": 9.0},
                      SECTION | {"type": "15XX5", "locator": "page 2"}]}),
    "other-heater-watts": ({"tubes": [TUBE, TUBE | {"type": "15XX5", "heater_v": 15.0, "heater_a": 0.15}],
                            "substitutes": [{"type": "6BQ5", "substitute": "15XX5"}]}, ("substitutes", 2, "relation"),
                           {"tubes": [TUBE, TUBE | {"type": "15XX5", "heater_v": 15.0, "heater_a": 0.3}],
                            "substitutes": [{"type": "6BQ5", "substitute": "15XX5"}]}),
    "inverse-volts": ({"tubes": [FIVE], "rectifiers": [RECTIFIER | {"piv_max_v": 850.0}]},
                      ("rectifiers", 2, "piv_max_v"), {"tubes": [FIVE], "rectifiers": [RECTIFIER]}),
    "rating-volts": ({"tubes": [FIVE], "rectifiers": [RECTIFIER], "rectifier_ratings": [
        {"type": "5Y3GT", "input": "choke", "ac_v": 700.0}]}, ("rectifier_ratings", 2, "ac_v"),
        {"tubes": [FIVE], "rectifiers": [RECTIFIER], "rectifier_ratings": [
            {"type": "5Y3GT", "input": "choke", "ac_v": 500.0}]}),
    "peak-current": ({"tubes": [FIVE], "rectifiers": [RECTIFIER | {"plate_peak_max_a": 0.04}]},
                     ("rectifiers", 2, "plate_peak_max_a"), {"tubes": [FIVE], "rectifiers": [RECTIFIER]}),
    "transient-current": ({"tubes": [FIVE], "rectifiers": [RECTIFIER | {"plate_transient_max_a": 0.22}]},
                          ("rectifiers", 2, "plate_transient_max_a"), {"tubes": [FIVE], "rectifiers": [RECTIFIER]}),
    "rectifier-current": ({"tubes": [FIVE], "rectifiers": [RECTIFIER], "rectifier_ratings": [
        {"type": "5Y3GT", "input": "choke", "ac_v": 500.0, "dc_a": 1.25}]}, ("rectifier_ratings", 2, "dc_a"),
        {"tubes": [FIVE], "rectifiers": [RECTIFIER], "rectifier_ratings": [
            {"type": "5Y3GT", "input": "choke", "ac_v": 500.0, "dc_a": 0.125}]}),
    "dc-volts": ({"tubes": [FIVE], "rectifiers": [RECTIFIER], "rectifier_operation": [
        {"type": "5Y3GT", "circuit": "full-wave", "input": "capacitor", "ac_v": 350.0, "dc_a": 0.1, "dc_v": 510.0}]},
        ("rectifier_operation", 2, "dc_v"),
        {"tubes": [FIVE], "rectifiers": [RECTIFIER], "rectifier_operation": [
            {"type": "5Y3GT", "circuit": "full-wave", "input": "capacitor", "ac_v": 350.0, "dc_a": 0.1, "dc_v": 360.0},
            {"type": "5Y3GT", "circuit": "doubler", "input": "capacitor", "ac_v": 117.0, "dc_a": 0.1, "dc_v": 280.0}]}),
}
