"""KiCad's symbol libraries to raw tables: valve pins, and diode ratings from the symbols' descriptions.

Run `python -m pipeline.build.ingest` where the libraries are installed (Debian package kicad-symbols). It writes
`data_raw/open/kicad/`, a place of its own because of the licence (CC-BY-SA 4.0 with the library's exception for
designs). Nothing is judged here: what the library says, right or wrong, is written down, and the build compares it
with the catalogue.
"""

import argparse
import csv
import re
import sys
from collections.abc import Iterator
from pathlib import Path

from pipeline.build.read import table_folder
from schemas.tables import TABLES, Table

SYMBOLS = Path("/usr/share/kicad/symbols")
SOURCE = "kicad-symbols"
VALVES = "Valve.kicad_sym"
DIODES = ("Diode.kicad_sym", "Diode_Bridge.kicad_sym")
HIDDEN = "~"

_TOKEN = re.compile(r'"((?:[^"\\]|\\.)*)"|([()])|([^\s()"]+)')
_RATING = re.compile(r"(?<![\d.])(\d+(?:\.\d+)?) ?V( Vrms| Vrm)?,? (\d+(?:\.\d+)?) ?(m?)A\b")
_OTHER_KINDS = re.compile(r"zener|tvs|transient|suppress|esd|trigger|diac|array|dual|quad|\bsic\b", re.IGNORECASE)
_ELECTRODES = {"A": "p", "P": "p", "K": "k", "S": "is", "L": "target", "ST": "deflector", "H": "h", "F": "h"}
"""First letters of the library's pin names in our words: anode, cathode, shield, luminous screen, bar (of EM84)."""

Expression = list  # of str and Expression


def parse(text: str) -> Expression:
    """The s-expressions of a symbol file as nested lists; quoted and bare words alike become strings.

    Raises ValueError where brackets do not match.
    """
    stack: list[Expression] = [[]]
    for quoted, bracket, bare in _TOKEN.findall(text):
        if bracket == "(":
            stack.append([])
        elif bracket == ")":
            if len(stack) == 1:
                raise ValueError("a closing bracket too many")
            done = stack.pop()
            stack[-1].append(done)
        else:
            stack[-1].append(bare or quoted.replace('\\"', '"'))
    if len(stack) != 1:
        raise ValueError(f"{len(stack) - 1} brackets are not closed")
    return stack[0]


def symbols(path: Path) -> dict[str, tuple[Expression, Expression]]:
    """Name → the symbol itself and the symbol it is drawn as (itself, or the one it extends).

    Raises OSError where the file cannot be read, ValueError where it is no symbol library.
    """
    found = parse(path.read_text(encoding="utf-8"))
    if not found or found[0][:1] != ["kicad_symbol_lib"]:
        raise ValueError(f"{path}: not a KiCad symbol library")
    own = {s[1]: s for s in _all(found[0], "symbol")}
    return {name: (symbol, own[(_all(symbol, "extends") or [["", name]])[0][1]]) for name, symbol in own.items()}


def _all(expression: Expression, head: str) -> list[Expression]:
    return [e for e in expression if isinstance(e, list) and e[:1] == [head]]


def valve_pins(path: Path) -> Iterator[dict[str, str]]:
    """Rows of `open_pins`: each pin of each valve symbol, aliases included, in the library's words and in ours."""
    for name, (_, drawn) in symbols(path).items():
        for part in _all(drawn, "symbol"):
            for pin in _all(part, "pin"):
                printed = _all(pin, "name")[0][1]
                yield {"symbol": name, "symbol_unit": part[1].rsplit("_", 2)[1], "pin": _all(pin, "number")[0][1],
                       "printed": printed, "electrode": electrode(printed),
                       "note": "" if drawn[1] == name else f"drawn as {drawn[1]}"} | _provenance(path, name)


def electrode(printed: str) -> str:
    """Our word for a pin name: A1 → p, K_G3 → k+g3, F1 → h (the library calls heaters and filaments F)."""
    words = []
    for name in re.split(r"[_,/]", printed.upper()):
        grid = re.fullmatch(r"G(\d?)", name)
        key = name if name in _ELECTRODES else name.rstrip("0123456789+-")
        words.append(f"g{grid[1]}" if grid else _ELECTRODES.get(key, name.lower()))
    return "+".join(words)


def diode_ratings(path: Path) -> Iterator[dict[str, str]]:
    """Rows of `open_diodes`: single diodes and bridges whose description gives volts and amps."""
    for name, (symbol, _) in symbols(path).items():
        texts = {p[1]: p[2] for p in _all(symbol, "property")}
        described = texts.get("ki_description", "").strip()
        rating = _RATING.search(described)
        if rating is None or _OTHER_KINDS.search(described + " " + texts.get("ki_keywords", "")):
            continue
        volts, rms, amps, milli = rating.groups()
        bridge = "bridge" in (path.stem + texts.get("ki_keywords", "")).lower()
        kind = "bridge" if bridge else "schottky" if "schottky" in described.lower() else "silicon"
        yield {"symbol": name, "printed": described, "kind": kind,
               "ac_v" if rms == " Vrms" else "piv_max_v": _plain(float(volts)),
               "forward_max_a": _plain(float(amps) / (1000 if milli else 1))} | _provenance(path, name)


def _plain(value: float) -> str:
    return f"{value:.6f}".rstrip("0").rstrip(".")


def _provenance(path: Path, name: str) -> dict[str, str]:
    return {"source_id": SOURCE, "locator": f"{path.name}, symbol {name}", "evidence": "quoted"}


def write_rows(rows: list[dict[str, str]], table: Table, raw: Path) -> Path:
    """Write the rows of one open table in its one form below `raw`; the file written."""
    path = table_folder(raw, table) / "symbols.csv"
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, table.columns, restval="", lineterminator="\n")
        writer.writeheader()
        writer.writerows(sorted(rows, key=lambda row: [row[name] for name in table.key]))
    return path


def ingest(folder: Path, raw: Path) -> list[Path]:
    """Both open tables from the libraries in `folder`; the files written.

    Raises OSError where a library is missing, ValueError where it cannot be read.
    """
    diodes = [row for name in DIODES for row in diode_ratings(folder / name)]
    return [write_rows(list(valve_pins(folder / VALVES)), TABLES["open_pins"], raw),
            write_rows(diodes, TABLES["open_diodes"], raw)]


def main() -> int:
    """Command line: folders in, the names of the files written out; 2 where the libraries cannot be read."""
    options = argparse.ArgumentParser(description="KiCad's symbol libraries to raw tables")
    options.add_argument("--symbols", type=Path, default=SYMBOLS, help="folder of the .kicad_sym files")
    options.add_argument("--raw", type=Path, default=Path("data_raw"), help="folder of the raw tables")
    given = options.parse_args()
    try:
        written = ingest(given.symbols, given.raw)
    except (OSError, ValueError) as error:
        print(f"ingest: {error}: install kicad-symbols, or name the folder with --symbols", file=sys.stderr)
        return 2
    print("\n".join(str(path) for path in written))
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
