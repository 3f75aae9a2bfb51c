"""The kinds that are known by their marking alone."""

from pipeline.notation.kinds.kind import Kind, words

KINDS = (
    Kind(
        name="tube", electronic=True, example="tube of the catalogue",
        words=words("tube;valve;röhre;roehre;лампа"),
        refs=("V", "VT", "TU", "TUBE", "VALVE", "XV", "RÖ"),
    ),
    Kind(
        name="capacitor", electronic=True, example="value of a capacitor such as 16 µF 450 V",
        words=words("capacitor;condenser;kondensator;condensateur;condensatore;elko;elco;electrolytic;конденсатор;"
                    "motor run;motor start;run capacitor;start capacitor"),
        refs=("C", "EC", "CE", "CAP"),
    ),
    Kind(
        name="resistor", electronic=True, example="value of a resistor such as 470 k",
        words=words("resistor;widerstand;résistance;candohm;резистор;centre-tapped resistor"),
        refs=("R", "RT", "RK"),
    ),
    Kind(
        name="lamp", electronic=True, example="lamp number such as #47",
        words=words("lamp;bulb;light;pilot lamp;dial lamp;panel lamp;pilot light;dial light;panel light;pilot bulb;"
                    "dial bulb;panel bulb;pilot;neon;lampe;lampje;lampada;žárovka;лампочка;neon lamp;neon indicator"),
        refs=("PL", "LP", "DL", "LA", "LAMP", "DS", "I", "IL", "NE"),
    ),
    Kind(
        name="fuse", electronic=True, example="fuse rating such as T 500 mA",
        words=words("fuse;sicherung;fusibile;zekering"),
        refs=("F", "FS", "FU", "FUSE", "SI"),
    ),
    Kind(
        name="choke", electronic=True, example="henries, amps or ohms of a choke",
        words=words("choke;drossel;field coil;speaker field;field winding;rf choke;filter choke;дроссель"),
        refs=("CH", "CK", "DR", "L", "LF"),
    ),
    Kind(
        name="diode", electronic=True, example="diode type such as 1N4007",
        words=words("diode;selenium;selenium rectifier;selen;bridge rectifier;silicon rectifier;диод"),
        refs=("D", "CR", "SR", "SE", "REC", "MR", "BR", "GL"),
    ),
)  # fmt: skip
