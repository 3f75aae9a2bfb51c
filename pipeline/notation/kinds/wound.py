"""Wound parts: transformers, coils, relays."""

from pipeline.notation.kinds.kind import Kind, words

KINDS = (
    Kind(
        name="transformer",
        words=words("transformer;xfmr;xformer;trafo;netztrafo;ausgangsübertrager;übertrager;opt;output trafo;"
                    "autotransformer;"
                    "transfo;transformateur;trasformatore;transformátor;трансформатор;i.f. can;if can"),
        refs=("T", "TR", "TX", "TF", "OPT", "PT", "OT", "IFT", "TRAFO"),
        holds=("ohms", "hertz", "henries"),
        own_reader="transformer.read_transformer",
        example="volts, amps or ohms of its windings",
    ),
    Kind(
        name="coil",
        words=words("coil;spule;bobine;bobina;antenna coil;aerial coil;oscillator coil;hum bucking coil;loop antenna;"
                    "ferrite rod;ferrite aerial;wave trap;loopstick;катушка"),
        refs=("LC", "ANT", "AE"),
        holds=("henries", "ohms", "hertz"),
        example="henries or ohms",
    ),
    Kind(
        name="relay",
        words=words("relay;relais;relè;relé;реле;relay coil"),
        refs=("K", "RL", "RLA", "RLB", "RY", "REL"),
        holds=("volts", "amps", "ohms", "contacts"),
        example="coil volts and ohms",
    ),
)  # fmt: skip
