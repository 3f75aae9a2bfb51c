"""What a hand turns: potentiometers, switches, knobs."""

from pipeline.notation.kinds.kind import Kind, words

KINDS = (
    Kind(
        name="potentiometer",
        words=words("potentiometer;pot;volume control;tone control;rheostat;variable resistor;hum pot;bias pot;volume;"
                    "trimpot;preset;hum control;balance control;gain control;poti;potmeter;potenziometro;potentiomètre;"
                    "потенциометр;regler;control"),
        refs=("VR", "RV", "POT", "P"),
        holds=("ohms", "watts"),
        own_reader="potentiometer.read_potentiometer",
        example="value of a potentiometer such as 500 k log",
    ),
    Kind(
        name="switch",
        words=words("switch;wafer switch;band switch;power switch;mains switch;toggle;selector;pushbutton;push-button;"
                    "schalter;interrupteur;commutateur;interruttore;schakelaar;vypínač;přepínač;переключатель;"
                    "тумблер;microswitch;reed switch"),
        refs=("SW", "S", "SB", "SA"),
        holds=("volts", "amps", "contacts"),
        example="poles, amps and volts",
    ),
    Kind(
        name="knob",
        words=words("knob;knopf;bouton;manopola;ручка"),
        refs=("KN", "KNOB"),
        example="",
    ),
)  # fmt: skip
