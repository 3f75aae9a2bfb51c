"""Sockets, connectors, meters, and the hardware that holds a set together."""

from pipeline.notation.kinds.kind import Kind, words

KINDS = (
    Kind(
        name="socket",
        words=words("socket;tube socket;holder;valve holder;valveholder;lamp socket;lamp holder;lampholder;fassung;"
                    "röhrenfassung;zoccolo;ламповая панель;панель;buisvoet"),
        refs=("X", "XS", "SO", "SKT"),
        holds=("pins",),
        example="base or number of pins",
    ),
    Kind(
        name="connector",
        words=words("connector;plug;jack;terminal;terminal strip;barrier strip;antenna terminal;din plug;din socket;"
                    "phono jack;stecker;buchse;fiche;prise;spina;разъём;разъем;mains inlet;mains socket;outlet;"
                    "speaker socket;speaker plug"),
        refs=("J", "JK", "CN", "CON", "PLG", "SK", "TB", "TS", "TP", "PJ"),
        holds=("pins", "volts", "amps"),
        example="number of pins",
    ),
    Kind(
        name="meter",
        words=words("meter;vu meter;s-meter;s meter;ammeter;voltmeter;milliammeter;galvanometer;messinstrument;"
                    "vu-meter;tuning meter"),
        refs=("ME", "MTR", "MT", "VU", "M"),
        holds=("amps", "volts", "ohms"),
        example="full scale, such as 0-1 mA",
    ),
    Kind(
        name="dial cord",
        words=words("dial cord;dial string;dial cable;skalenseil;seil;drive cord;тросик"),
        refs=("DC",),
        own_reader="belt.read_thread",
        example="length and thickness",
    ),
    Kind(
        name="hardware",
        words=words("hardware;screw;nut;washer;grommet;tag strip;tagstrip;bracket;spring;felt;foot;feet;escutcheon;"
                    "dial glass;dial;grille cloth;fuse holder;fuseholder;pilot assembly;pilot light assembly;"
                    "lamp assembly;shield;screening can;tube shield;mount;motor mount;bearing;spindle;counter;"
                    "back cover;cabinet;handle;badge;clip;mounting;insulator;heat sink;rubber foot;flywheel;"
                    "pressure pad;brake;brake band;plate cap;grid cap"),
        refs=("MP", "HW", "E"),
        example="",
    ),
)  # fmt: skip
