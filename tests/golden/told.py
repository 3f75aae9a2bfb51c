"""Invented units told line by line: what each line changes, what is asked then, what is refused; `told.csv` holds it.

Each script begins with an empty unit. A line may begin with `drop` or `undo`; `= TEXT` answers the first question.
"""

import csv
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

from golden.outcomes import Row, said

GOLDEN = Path(__file__).with_name("told.csv")
SCRIPTS = {
    "table set": """
        mains 121 V 60 Hz, nameplate 117 V, at most 126 V
        mains 50 Hz
        mains 12 V
        winding H1 6.3 V
        = 3
        winding H2 5 V 2 A for the rectifier
        winding H2 300 V
        V5 5Y3GT rectifier at H2
        V3 6V6GT
        V4 6V6GT at H1
        V1 12AX7
        V2 EF86 H1 weak
        V9 6QQ77
        supply full-wave 5Y3 from T1 300-0-300 V
        = 95
        supply B+ 120 mA primary 6 ohm
        supply ful-wave V5 300 V
        C1 16 by 450
        = reservoir
        = B1
        C2A 20 uF 450V smoothing B2
        L1 10 H 200 ohm choke
        R7 270 5W cathode V3 V4
        R6 470k grid leak V3
        R8 470k ½W grid leak V4
        T2 output transformer 320 ohm CT V3 V4 B1
        B1 to B2 through L1, C2A, 12 mA
        B2 to B3 through R3
        R3 22k 1W dropping
        = B2 B3
        B2 to B3 through R3 C3 load 4k7
        C3 8 uF 450 V smoothing B3 bulging
        V3 V4 plate B1 through T2, screen B2, cathode R7, grid R6 R8, push-pull
        V3 cathode R3
        V1A plate B3 through R4
        R4 100k plate load V1A
        R5 1k5 cathode V1A
        R14 100k plate load V1B from B3
        R15 1k5 cathode V1B
        R12 1M screen V2
        stage V8 plate B1
        drop stage V8
        mains at most 130 V, lowest 110 V, 2 A
        stage V2 cathode R16
        = B3
        stage V2 V9 screen B2
        R16 1k cathode V2
        C5 .1 400 coupling V1A V3
        C6 25 uF 25 V
        = cathode bypass
        = V3
        C7 4n7 Y line to chassis
        V3 plate 248 V
        V1A plate 130 V
        B1 285 V
        R7 14.2 V
        drop R15
        drop H1
        undo
        drop C6
        undo
        V3 V4 without R6
        drop stage V3 V4
        drop B3
        undo
        undo
        undo
        drop nothing
        F1 T 1 A
        S2 standby switch
        B1 standby S2
        LA1 #47 at H1
        LA2 #47""",
    "without a transformer": """
        mains 226 V 50 Hz nameplate 220
        string S1 0.1 A order V5 V4 V1 dropper BR1
        V5 UY41 S1
        V4 UCL83
        = S1
        V1 UCH41 S1
        BR1 ballast 60 V 0.1 A
        R1 surge resistor 165 ohm
        supply half-wave V5 220 V 4 ohm, surge 165 ohm
        B1 C1A
        C1A 50 uF 300 V reservoir
        C1B 50 uF 300 V
        = smoothing
        = B2
        B1 to B2 via R2 C1B load 10 mA
        R2 1.2k 2W
        V4 pentode anode B1 through T2 g2 B2 cathode R3 grid R4
        V4 triode plate B2 through R6 grid R7 grid leak biased
        V1 hexode plate B2 through IF1 screen B2 through R8 cathode R9 AVC
        string S1 0.15 A
        string S2 0.3 A order V7
        winding S1 6.3 V""",
    "others": """
        battery 90 V, fresh 98 V, flat 65 V, 40 ohm, minus through R8
        winding A 1.5 V 300 mA
        V4 3S4 A
        node B1 C1
        V4 plate B1 through T2, screen B1 through R4, grid B- through R5
        vibrator 6 V 115 Hz 250 V
        supply bridge D1 250V 30 Ω primary 4,5 ohm
        drop supply
        D1 1N4007 rectifier
        D2 1N4007 rectifier
        supply D1 voltage doubler 117 V 3 ohm 22 ohm in series
        supply heat half-wave D2 8 V heats A
        bias supply half-wave D2 50 V
        C- C5
        C5 50 uF 50 V bias filter
        C- to C-2 through R20, C6
        supply screen from B1
        = R30
        B2 regulator VR1+VR2
        VR1 0A2
        VR2 0B2
        supply D9 choke input 300-0-300
        M1 motor 240 V 60 Hz
        C9 3 uF 400 V~
        = motor run
        C10 0.1 250 V~ across the line
        R90 ?
        X1 strange thing
        X1
        name Made up for a test""",
}


def run(script: str, folder: Path, catalogue: Any) -> list[Row]:
    """Line → what it came to: refused, or the fact or part entered, what followed, the questions, and all that is told."""
    from pipeline.bench.still_needed import still_needed
    from pipeline.bench.taking_stock import Stock

    folder.mkdir()
    (folder / "unit.toml").write_text("# nothing told yet\n", encoding="utf-8")
    (folder / "parts.csv").write_text("ref,marking,role,at,measured,note\n", encoding="utf-8")
    stock, asked, rows = Stock(folder, catalogue), [], []
    for line in map(str.strip, SCRIPTS[script].strip().splitlines()):
        try:
            rows.append((line, " | ".join(_told(stock, line, asked))))
        except ValueError as error:
            rows.append((line, f"refused {said(str(error).ljust(24))}"))
    needed, more = still_needed(folder, catalogue, stock.now)
    rows.append(("still needed", said([[(one.ref, one.line.replace(" ", "_")[:22]) for one in needed], more])))
    rows.append(("in the end", said([stock.known().toml.data, (folder / "parts.csv").read_text(encoding="utf-8").split()])))
    return rows


def _told(stock: Any, line: str, asked: list[Any]) -> Iterator[str]:
    if line == "undo" or line.startswith("drop "):
        yield stock.undo() if line == "undo" else stock.drop(line[5:])
        return
    taken = stock.answer(asked[0], line[2:]) if line.startswith("= ") and asked else stock.take(line)
    asked[:] = stock.questions(taken)
    yield said([taken.ref, taken.fact, [(a.table, a.name) for a in taken.also]])
    yield said([[q.ref, q.column, q.known, q.default, q.line.replace(" ", "_")[:22], q.unit] for q in asked])
    part = stock.now.parts.get(taken.ref or "")
    yield said([part.marking, part.kind, part.role, part.at, part.measured, part.note] if part else stock.known().toml.data)[-400:]


@cache
def golden() -> dict[str, list[Row]]:
    found: dict[str, list[Row]] = {name: [] for name in SCRIPTS}
    with GOLDEN.open(encoding="utf-8", newline="") as file:
        for name, line, what in list(csv.reader(file))[1:]:
            found[name].append((line, what))
    return found


def write_told(catalogue: Any, folder: Path) -> None:
    """Write the file anew; `folder` is an empty one for the units."""
    rows = [(name, *row) for name in SCRIPTS for row in run(name, folder / name.replace(" ", "-"), catalogue)]
    with GOLDEN.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file, lineterminator="\n").writerows([("script", "line", "outcome"), *rows])
