"""Where sound begins and ends: speakers, tape heads, cartridges."""

from pipeline.notation.kinds.kind import Kind, words

KINDS = (
    Kind(
        name="speaker",
        words=words("speaker;loudspeaker;loud speaker;lautsprecher;haut-parleur;haut parleur;altoparlante;luidspreker;"
                    "reproduktor;динамик;woofer;tweeter;speaker cone"),
        refs=("LS", "SP", "SPK", "SPKR", "HP", "LSP"),
        holds=("ohms", "watts", "diameter_mm", "hertz"),
        example="ohms, watts, inches",
    ),
    Kind(
        name="head",
        words=words("head;tape head;record head;playback head;erase head;record/play head;tonkopf;kopf;löschkopf;"
                    "aufnahmekopf;"
                    "wiedergabekopf;tête;testina;hlava;головка"),
        refs=("HD", "H", "EH", "RPH", "TK"),
        holds=("ohms", "henries", "hertz", "tracks"),
        example="ohms or henries",
    ),
    Kind(
        name="cartridge",
        words=words("cartridge;pickup;pick-up;pick up;stylus;needle;crystal cartridge;ceramic cartridge;tonabnehmer;"
                    "tone arm;tonearm"),
        refs=("PU", "CART", "TA"),
        holds=(),
        example="its maker's number",
    ),
)  # fmt: skip
