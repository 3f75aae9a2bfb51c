"""Where power comes in: cords, batteries, vibrators, ballasts, thermistors."""

from pipeline.notation.kinds.kind import Kind, words

KINDS = (
    Kind(
        name="cord",
        words=words("cord;line cord;mains cord;power cord;mains lead;power lead;cable;mains cable;flex;netzkabel;"
                    "netzschnur;cordon;cordon secteur;cavo;netsnoer;kabel;шнур;resistance cord;curtain burner"),
        refs=("W", "CORD", "CBL"),
        holds=("volts", "amps", "ohms", "length_mm"),
        example="length, amps, volts",
    ),
    Kind(
        name="battery",
        words=words("battery;batterie;pile;batteria;akku;accumulator;anodenbatterie;батарея;a battery;b battery;"
                    "c battery"),
        refs=("BT", "BAT", "BATT", "B", "GB", "HTB", "LTB"),
        holds=("volts", "amps"),
        example="volts",
    ),
    Kind(
        name="vibrator",
        words=words("vibrator;zerhacker;vibreur;vibropack;вибратор;wechselrichter"),
        refs=("VB", "VIB"),
        holds=("volts", "hertz", "amps", "pins"),
        example="volts and hertz",
    ),
    Kind(
        name="ballast",
        words=words("ballast;ballast tube;barretter;baretter;barreter;iron hydrogen;urdox;eisenurdox;ballast resistor;"
                    "regulateur;бареттер;plug-in resistor"),
        refs=("BL", "BAL"),
        holds=("volts", "amps", "ohms"),
        own_reader="ballast.read_ballast",
        example="a ballast's number such as K55B, or volts and amps",
    ),
    Kind(
        name="thermistor",
        words=words("thermistor;ntc;ntc resistor;heißleiter;heissleiter;inrush limiter;surgistor;brimistor;globar;"
                    "varite;"
                    "thernewid;термистор;vdr;varistor;mov"),
        refs=("TH", "NTC", "VDR", "RTH", "TDR"),
        holds=("ohms", "amps", "volts", "watts"),
        example="cold ohms and amps",
    ),
)  # fmt: skip
