"""What sets a frequency: tuning capacitors, trimmers, crystals."""

from pipeline.notation.kinds.kind import Kind, words

KINDS = (
    Kind(
        name="tuning capacitor",
        words=words("tuning capacitor;tuning condenser;variable capacitor;variable condenser;tuning gang;drehko;"
                    "drehkondensator;ganged capacitor;condensateur variable;condensatore variabile;кпе;"
                    "air variable;tuning cap;variable cap"),
        refs=("VC", "TC", "CV", "GANG"),
        own_reader="tuning.read_tuning",
        example="largest pF of each gang",
    ),
    Kind(
        name="trimmer",
        words=words("trimmer;padder;trimmer capacitor;padder capacitor;compression trimmer;trimmer condenser;"
                    "padding condenser;padding capacitor;ajustable;kpk;кпк"),
        refs=("CT", "TRIM", "TCAP"),
        own_reader="tuning.read_trimmer",
        example="range in pF such as 3-30 pF",
    ),
    Kind(
        name="crystal",
        words=words("crystal;quartz;xtal;quarz;кварц;ceramic filter;crystal filter"),
        refs=("Y", "XT", "XTAL", "XL", "X"),
        holds=("hertz",),
        example="frequency such as 455 kc",
    ),
)  # fmt: skip
