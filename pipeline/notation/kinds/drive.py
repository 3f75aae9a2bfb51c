"""What moves: motors, belts, wheels."""

from pipeline.notation.kinds.kind import Kind, words

KINDS = (
    Kind(
        name="motor",
        words=words("motor;capstan motor;drive motor;moteur;motore;phono motor;reel motor;induction motor;"
                    "synchronous motor;двигатель;электродвигатель;эдг"),
        refs=("M", "MOT", "MOTOR"),
        holds=("volts", "amps", "watts", "hertz", "rpm", "uf", "ohms"),
        example="volts, hertz, watts",
    ),
    Kind(
        name="belt",
        words=words("belt;drive belt;riemen;antriebsriemen;courroie;cinghia;snaar;řemínek;пассик;counter belt;o-ring;"
                    "spring belt"),
        refs=("BELT", "BE", "BLT"),
        own_reader="belt.read_belt",
        example="inside length and section, such as 210 mm, 1.5 mm square",
    ),
    Kind(
        name="drive wheel",
        words=words("drive wheel;idler;idler wheel;pinch wheel;pinch roller;reibrad;andruckrolle;rubber wheel;puck;"
                    "jockey wheel;intermediate wheel;zwischenrad;galet;puleggia;ролик;idler tire;idler tyre;pulley;"
                    "gummirolle"),
        refs=("WH", "IW", "PW", "IDL"),
        holds=("diameter_mm", "rpm", "teeth"),
        example="diameter",
    ),
)  # fmt: skip
