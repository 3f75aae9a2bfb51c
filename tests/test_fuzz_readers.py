"""Every reader of text that people type, under random and mangled input: an answer or one line that says where.

Held for each input: no other exception, under a second of processor time, messages that print, and nothing dropped in
silence: each line of a list is in the answer or the message, each raw row is a row or a fault.

`TUBEWRIGHT_FUZZ` sets how many inputs each reader gets (default 300; the long run takes 200000), `TUBEWRIGHT_SEED`
which; they come in `SHARDS` tests a reader, for `pytest -n`. Beside them Hypothesis searches in every run.
"""

import json
import os
import random
import re
import signal
from collections import Counter
from collections.abc import Callable
from contextlib import contextmanager
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from support import ROOT
from test_fuzz_units import (
    BATTERY,
    BUILT,
    GENTLE,
    HOSTILE,
    JUNK,
    MARKINGS,
    NUMBERS,
    READINGS,
    ROLES,
    ROUGH,
    SEEDS,
    VALUES,
    _marking,
)

from pipeline.build.catalogue import checked
from pipeline.build.faults import KEEPS_ROWS, Fault
from pipeline.build.normalise import TypedRow
from pipeline.build.read import Raw, read_file, read_tables
from pipeline.build.rules import RULES
from pipeline.notation.read import KINDS, read
from pipeline.unit import Unit, UnitError, UnitReading, load, load_readings
from schemas.tables import TABLES

COUNT = int(os.environ.get("TUBEWRIGHT_FUZZ", "300"))
SEED = os.environ.get("TUBEWRIGHT_SEED", "1")
SHARDS = 1 if COUNT < 2_000 else 4
SECONDS = 3.0
DEMO = sorted(p for p in (ROOT / "data_raw/units").iterdir() if p.is_dir())
RAW = ROOT / "data_raw"
WHOLE_EVERY = 50
"""Of the raw files one in so many goes through the whole build, which takes fifty times as long as the reading."""
PARTS = b"ref,marking,role,at,measured,note\nV1,12AX7,,,,\nV5,5Y3GT,,,,\nC1,16 uF 450 V,reservoir,,,\nR1,1k,,,,\nL1,10 H,,,,\n"
TOML = b'mains_v = 120\nmains_hz = 60\n[[winding]]\nid = "H1"\nvolts = 6.3\n[[string]]\nid = "S1"\namps = 0.15\n'
READING_LINES = (b"B1,,412 V,", b'C1,leakage,"0,38 mA",', b"V1,plate,248,", b"V1,,cathode 1.9 V,", b"R1,ohms,1.2 k,",
                 b"mains,,121 V,", b"secondary,ac,2x350,", b"V1,screen,nan,", b"H1,,6.2 V,", b"nowhere,,1 V,", b"C1,uf,1e400,")
CELLS = (*HOSTILE, b"6.00E+05", b"2-Jan", b"6,3", b"#REF!", "Âµ".encode(), "\u00a0".encode(), b"9" * 400, b"12AX7", b"book",
         b"recalled", b"published", b"nan", b"-0", b"1e999", "٣.٣".encode(), b"1:t2_p 2:g 2:k", b"x\ny,z")


@contextmanager
def in_time(text: object):
    """Stop what takes longer than `SECONDS` of this process's own time, hung or not."""
    def late(*_: object) -> None:
        raise TimeoutError(f"over {SECONDS:g} s for {text!r:.300}")

    before = signal.signal(signal.SIGVTALRM, late)
    signal.setitimer(signal.ITIMER_VIRTUAL, SECONDS)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_VIRTUAL, 0)
        signal.signal(signal.SIGVTALRM, before)


def lines_of(data: bytes) -> list[str]:
    return re.split("\r\n|\r|\n", data.decode("utf-8"))


def is_blank(line: str) -> bool:
    return not line.replace(",", "").replace('"', "").strip()


def told(error: UnitError, path: Path, data: bytes) -> int | None:
    """The first line an error names in the file, None where it names only the unit's other one.

    Each is one of the file's, and its message prints on one line.
    """
    lines = []
    assert error.messages
    for message in error.messages:
        match = re.match(re.escape(str(path)) + r":(\d+): .", message)
        if match is None and path.parent == Path(message.split(":")[0]).parent:
            continue  # of the unit's other file, which depends on this one
        assert match, f"no file and line: {message}"
        assert message.isprintable() and len(message) < 1000, repr(message)
        assert 1 <= int(match[1]) <= len(re.findall(rb"\r\n|\r|\n", data)) + 1, message
        lines.append(int(match[1]))
    return lines[0] if lines else None


def nothing_dropped(data: bytes, found: set[int]) -> None:
    """Every line that holds something is the start of one found, or goes on with a quoted cell and holds no comma."""
    lines = lines_of(data)
    head = next(n for n, line in enumerate(lines, 1) if not is_blank(line))
    for number, line in enumerate(lines[head:], head + 1):
        assert is_blank(line) or number in found or "," not in line.split('"')[0], f"line {number} is lost: {line!r}"
    assert all(head < number <= len(lines) for number in found)


class Reader:
    """What one reader is given, and what must hold of its answer."""

    def __init__(self, catalogue, folder: Path):
        self.catalogue, self.folder = catalogue, folder
        (folder / "unit").mkdir(parents=True, exist_ok=True)

    def write(self, **files: bytes) -> Path:
        for name, data in files.items():
            (self.folder / "unit" / name.replace("_", ".")).write_bytes(data)
        return self.folder / "unit"

    def loaded(self, data: bytes, name: str, **files: bytes) -> Unit | None:
        folder = self.write(**files)
        try:
            return load(folder, self.catalogue)
        except UnitError as error:
            told(error, folder / name, data)
        return None


class Markings(Reader):
    def seeds(self) -> list[bytes]:
        return [*MARKINGS, *(cells[1] for d in DEMO for line in (d / "parts.csv").read_bytes().split(b"\n")
                             if len(cells := line.split(b",")) > 1)]

    def check(self, data: bytes) -> bool:
        text = data.decode("utf-8", "surrogateescape")
        rng = random.Random(data)
        found = read(text, names=self.catalogue.names, lamps=self.catalogue.lamps, diodes=self.catalogue.diodes,
                     ref=rng.choice((None, "V1", "C1", "R1", "PL1", "F1", "L1", "D1", "?")),
                     role=rng.choice((None, "reservoir", "motor run", "cathode", "fuse", "line to chassis")))
        assert found.marking == text
        assert (found.kind in KINDS) if found.kind else found.why and found.why.isprintable(), repr(found.why)
        json.dumps(found.as_dict(), allow_nan=False)
        return found.kind is not None


class Tomls(Reader):
    def seeds(self) -> list[bytes]:
        return [TOML, *(files["unit.toml"] for files in SEEDS)]

    def check(self, data: bytes) -> bool:
        parts = BUILT["parts.csv"] if b"bias" in data else BATTERY["parts.csv"] if b"battery" in data else PARTS
        return self.loaded(data, "unit.toml", unit_toml=data, parts_csv=parts) is not None

    def mangled(self, rng: random.Random) -> bytes:
        data = rng.choice(self.seeds())
        if b"[[stage]]" in data:
            return data
        return re.sub(rb'(rectifier|through|dropper) = "\w+"|(capacitors|tubes|order) = \[[^]]*\]',
                      lambda m: m[0] if rng.random() < 0.3 else (m[1] or m[2]) + (b' = "V5"' if m[1] else b' = ["C1"]'), data)


class PartsLists(Reader):
    def seeds(self) -> list[bytes]:
        return [PARTS, *((d / "parts.csv").read_bytes() for d in DEMO)]

    def check(self, data: bytes) -> bool:
        places = sorted(set(re.findall(rb",(H\d|S\d|B\d),", data)))
        toml = TOML + b"".join(b'[[winding]]\nid = "%s"\nvolts = 6.3\n' % p for p in places if p not in (b"H1", b"S1"))
        unit = self.loaded(data, "parts.csv", unit_toml=toml, parts_csv=data)
        if unit:
            nothing_dropped(data, {part.line for part in unit.parts.values()})
        return unit is not None


class Readings(Reader):
    def __init__(self, catalogue, folder: Path):
        super().__init__(catalogue, folder)
        self.unit = load(DEMO[0], catalogue)

    def seeds(self) -> list[bytes]:
        return [b"at,reading,value,note\n" + b"\n".join(READING_LINES) + b"\n",
                b"at,reading,value,note\nC1,leakage,0.38 mA,\nV1,plate,248 V,\nmains,,121 V,\nH1,,6.2 V,\n",
                b"node,reads\nB1,412 V\nB2,380 V\n"]

    def check(self, data: bytes) -> bool:
        path = self.folder / "readings.csv"
        path.write_bytes(data)
        try:
            found = load_readings(path, self.unit)
        except UnitError as error:
            told(error, path, data)
            return False
        assert all(isinstance(r, UnitReading) and r.value == r.value and abs(r.value) < float("inf") for r in found), found
        nothing_dropped(data.removeprefix(b"\xef\xbb\xbf"), {r.line for r in found})
        return bool(found)


class RawFiles(Reader):
    """A raw file of any table; one in `WHOLE_EVERY` goes on through types, schema, corrections and audit."""

    def __init__(self, catalogue, folder: Path):
        super().__init__(catalogue, folder)
        self.good = {name: rows[:20] for name, rows in read_tables(RAW).rows.items()}
        self.files = {name: sorted((RAW / table.family / name).glob("*.csv")) for name, table in TABLES.items()}
        self.table, self.count = "tubes", 0

    def seeds(self) -> list[bytes]:
        self.table = sorted(name for name, files in self.files.items() if files)[self.count % 20]
        path = self.files[self.table][self.count % len(self.files[self.table])]
        lines = path.read_bytes().split(b"\n")
        start = 1 + self.count * 7 % max(len(lines) - 9, 1)
        return [b"\n".join([lines[0], *lines[start:start + 8]]).rstrip(b"\n") + b"\n"]

    def check(self, data: bytes) -> bool:
        self.count += 1
        table = TABLES[self.table]
        name = f"{table.family}/{table.name}/fuzz.csv".lstrip("/")
        path = self.folder / "fuzz.csv"
        path.write_bytes(data)
        rows, faults = read_file(path, name, table)
        self.told(faults, name)
        lost = [f for f in faults if f.column == "-" and f.rule not in (*KEEPS_ROWS, "cell-count")]
        if rows or not (lost or any(f.line == 1 for f in faults)):
            self.every_row_told(data, rows, faults)
        if self.count % WHOLE_EVERY == 0:
            raw = Raw({n: ([] if n == self.table else kept) for n, kept in self.good.items()} | {self.table: rows}, [*faults])
            typed, found = checked(raw)
            self.told(found, "")
            assert len(typed[self.table]) >= len(rows) and all(isinstance(r, TypedRow) for r in typed[self.table])
        return bool(rows) and not faults

    def every_row_told(self, data: bytes, rows: list, faults: list[Fault]) -> None:
        """Every line below the header is a row or a fault, or within a cell that a fault shows with its line breaks."""
        breaks = Counter[int]()
        for fault in faults:
            breaks[fault.line] += len(re.findall("\r\n|\r|\n", fault.value))
        told = {r.line for r in rows} | {f.line for f in faults} | {n + k + 1 for n, of in breaks.items() for k in range(of)}
        lines = lines_of(data)
        head = next(n for n, line in enumerate(lines, 1) if not is_blank(line))
        for number, line in enumerate(lines[head:], head + 1):
            assert number in told or not line, f"line {number} is lost: {line!r}"

    def told(self, faults: list[Fault], name: str) -> None:
        for fault in faults:
            assert fault.rule in RULES and fault.line >= 1 and str(fault).isprintable() and len(str(fault)) < 1200, repr(fault)
            assert fault.file == name or not name


READERS: dict[str, Callable] = {"markings": Markings, "unit TOML": Tomls, "parts lists": PartsLists,
                                "meter readings": Readings, "raw files": RawFiles}
WORDS = (*NUMBERS, *VALUES, *MARKINGS, *READINGS, *ROLES, *JUNK, *CELLS, b",", b"\n", b'"', b" ", b"ref", b"marking", b"at", b"value")


def cell(rng: random.Random, data: bytes) -> bytes:
    """Another cell somewhere."""
    spots = [m.start() for m in re.finditer(rb"(?<![\s\S])|,|\n", data)]
    at = rng.choice(spots)
    end = next((m.start() for m in re.finditer(rb",|\n", data[at + 1:])), len(data) - at - 1) + at + 1
    return data[:at + 1] + rng.choice(CELLS) + data[end:]


def given_to(reader: Reader, rng: random.Random) -> bytes:
    """One input: noise, words thrown together, or a good one with one to four things done to it."""
    kind = rng.random()
    if kind < 0.07:
        return rng.randbytes(rng.randrange(200))
    if kind < 0.2:
        return b"".join(rng.choice(WORDS) for _ in range(rng.randrange(12)))
    data = reader.mangled(rng) if hasattr(reader, "mangled") else rng.choice(reader.seeds())
    for _ in range(rng.randint(1, 4)):
        data = rng.choice((*GENTLE, *ROUGH, _marking, cell, cell))(rng, data or b"\n")
    return data


SLOW = pytest.param("raw files", marks=pytest.mark.long)
PARTED = [SLOW if name == "raw files" else name for name in READERS]


@pytest.fixture(params=PARTED)
def reader(request, catalogue, tmp_path):
    return READERS[request.param](catalogue, tmp_path)


@pytest.mark.long
@pytest.mark.parametrize("shard", range(SHARDS))
def test_mangled_and_random_input(reader, shard, record_property):
    name, wrong, count = type(reader).__name__, [], 0
    for number in range(shard, COUNT, SHARDS):
        data = given_to(reader, random.Random(f"{SEED}/{name}/{number}"))
        try:
            with in_time(data):
                count += bool(reader.check(data))
        except Exception as error:
            wrong.append(f"{name} {number} of seed {SEED}: {error!r:.600}\n{data[:2000]!r}")
    record_property("read", count)
    assert not wrong, f"{len(wrong)} inputs\n" + "\n".join(wrong[:20])
    assert 0.02 < count * SHARDS / COUNT < 0.9, f"{count} of {COUNT // SHARDS} were read: the mangling tests nothing"


pieces = st.lists(st.one_of(st.sampled_from(WORDS), st.text(max_size=8).map(lambda t: t.encode("utf-8", "surrogatepass")),
                            st.binary(max_size=6)), max_size=12).map(b"".join)


@pytest.mark.long
@pytest.mark.parametrize("name", PARTED)
def test_input_that_hypothesis_finds(name, catalogue, tmp_path_factory):
    reader = READERS[name](catalogue, tmp_path_factory.mktemp("reader"))

    @settings(max_examples=min(COUNT, 100_000) // 3, deadline=None, database=None, derandomize=SEED == "1",
              suppress_health_check=list(HealthCheck))
    @given(begin=pieces, seed=st.sampled_from(reader.seeds()), cut=st.integers(0, 400), end=pieces)
    def search(begin: bytes, seed: bytes, cut: int, end: bytes) -> None:
        data = begin + seed[:cut] + end + seed[cut:]
        with in_time(data):
            reader.check(data)

    search()
