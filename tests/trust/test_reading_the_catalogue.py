"""A catalogue that is not as it was built is noticed by whoever reads it: flipped bits, missing, mixed, older files."""

import random
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from build.bad_rows import write
from support import ROOT
from typer.testing import CliRunner

from pipeline.build.export import export
from pipeline.build.history import compare
from pipeline.build.run import build
from pipeline.catalogue import Catalogue, CatalogueError, default_folder
from pipeline.cli import app
from pipeline.sums import SUMS

BUILT = ROOT / "data_built"
FLIPS = 600
LAMPS = ("type,lamp_v,lamp_a,base,bulb,bead,source_id,locator,evidence,note\n"
         "44,6.3,0.25,BA9s,,blue,book,page 1,quoted,\n47,6.3,0.15,BA9s,,brown,book,page 1,quoted,\n")


@pytest.fixture
def copy(tmp_path):
    return Path(shutil.copytree(BUILT, tmp_path / "copy"))


@pytest.fixture(scope="module")
def small(tmp_path_factory):
    """A catalogue of a few rows."""
    folder = tmp_path_factory.mktemp("small")
    build(write(folder / "raw", {"lamps": LAMPS.encode()}), folder / "built")
    return folder / "built"


def flipped(data: bytes, bit: int) -> bytes:
    return data[:bit // 8] + bytes([data[bit // 8] ^ 1 << bit % 8]) + data[bit // 8 + 1:]


def told(folder: Path, read) -> str:
    with pytest.raises(CatalogueError) as error:
        read(Catalogue(folder))
    assert "\n" not in str(error.value) and str(folder) in str(error.value)
    return str(error.value)


@pytest.mark.long
def test_no_flipped_bit_of_the_figures_is_read(copy, monkeypatch):
    """600 single bits of the very file that verdicts rest on; half of such flips used to be read as other figures."""
    monkeypatch.setattr("pipeline.catalogue.sleep", lambda s: None)
    path, rng = copy / "figures.parquet", random.Random(14)
    data = path.read_bytes()
    known = Catalogue(copy)
    for _ in range(FLIPS):
        path.write_bytes(flipped(data, rng.randrange(8 * len(data))))
        known._sound.clear()
        with pytest.raises(CatalogueError, match="figures.parquet"):
            known.path("figures")
    path.write_bytes(data)
    known._sound.clear()
    assert known.ratings(["12AX7"])


@pytest.mark.long
@pytest.mark.parametrize("table", ["figures", "tubes", "designations", "pins", "substitutes", "sources"])
def test_a_flipped_bit_in_what_show_reads_stops_it(copy, table):
    path = copy / f"{table}.parquet"
    path.write_bytes(flipped(path.read_bytes(), 4000))
    done = CliRunner().invoke(app, ["show", "ECC83", "--catalogue", str(copy)])
    assert isinstance(done.exception, CatalogueError) and f"{table}.parquet" in str(done.exception)
    assert "12AX7" not in done.stdout


@pytest.mark.long
def test_a_flipped_bit_turns_no_stop_into_a_pass(copy):
    """The whole program, on a unit with faults to stop for."""
    path = copy / "figures.parquet"
    path.write_bytes(flipped(path.read_bytes(), 8 * path.stat().st_size // 2))
    done = subprocess.run([sys.executable, "-c", "from pipeline.cli import main; main()", "check",
                           "data_raw/units/hall-amplifier", "--catalogue", str(copy)], cwd=ROOT, capture_output=True,
                          text=True, check=False)
    assert done.returncode == 2 and done.stdout == "" and done.stderr.count("\n") == 1
    assert "figures.parquet: is damaged" in done.stderr and "tubewright build" in done.stderr


@pytest.mark.parametrize("name", ["stock_kinds.parquet", "regions.parquet", "tubes.parquet", SUMS, "figures.parquet"])
def test_a_missing_file_is_an_error_that_says_so(copy, name):
    (copy / name).unlink()
    with pytest.raises(CatalogueError, match=f"{name}: is missing"):
        Catalogue(copy)


@pytest.mark.parametrize("harm", [
    lambda text: "", lambda text: text.replace("# crc32 ", "# crc32 0", 1), lambda text: text[:len(text) // 2],
    lambda text: "".join(x for x in text.splitlines(True) if "tubes" not in x)])
def test_a_damaged_checksum_file_lets_nothing_pass(copy, harm, monkeypatch):
    monkeypatch.setattr("pipeline.catalogue.sleep", lambda s: None)
    text = (copy / SUMS).read_text(encoding="utf-8")
    (copy / SUMS).write_text(harm(text), encoding="utf-8")

    def read_all(known):
        for path in sorted(copy.glob("*.parquet")):
            known.path(path.stem)

    told(copy, read_all)


def test_a_mixed_catalogue_is_noticed(copy, small):
    shutil.copy(small / "lamps.parquet", copy / "lamps.parquet")
    assert "lamps.parquet: is damaged, or of another build" in told(copy, lambda known: known.lamps)


def test_the_description_is_held_against_its_checksum_too(copy):
    path = copy / "datapackage.json"
    path.write_bytes(path.read_bytes().replace(b"CC0-1.0", b"CC0-1.1"))
    assert "datapackage.json" in told(copy, lambda known: known.tables)


def test_a_table_that_came_later_is_no_fault_of_an_older_catalogue(small):
    assert not Catalogue(small).has("a table of tomorrow") and Catalogue(small).has("lamps")


def test_a_catalogue_from_before_the_quick_checksums_is_read_and_held_too(copy):
    text = (copy / SUMS).read_text(encoding="utf-8")
    (copy / SUMS).write_text("".join(x for x in text.splitlines(True) if "crc32" not in x), encoding="utf-8")
    assert Catalogue(copy).ratings(["12AX7"])
    path = copy / "figures.parquet"
    path.write_bytes(flipped(path.read_bytes(), 77_777))
    told(copy, lambda known: known.ratings(["12AX7"]))


def test_exports_and_comparisons_hold_what_they_read_too(copy, tmp_path):
    path = copy / "lamps.parquet"
    path.write_bytes(flipped(path.read_bytes(), 999))
    with pytest.raises(OSError, match="is damaged"):
        export(copy, tmp_path / "out")
    assert not (tmp_path / "out").exists()
    (copy / "datapackage.json").write_bytes(flipped((copy / "datapackage.json").read_bytes(), 1))
    with pytest.raises(OSError, match="is damaged"):
        compare(copy, BUILT)


@pytest.mark.long
def test_sha256sum_reads_the_checksums(tmp_path):
    program = shutil.which("sha256sum")
    if program is None:
        pytest.skip("sha256sum is not installed")
    for folder in (BUILT, tmp_path / "out"):
        if folder != BUILT:
            export(BUILT, folder)
        done = subprocess.run([program, "--check", "--strict", SUMS], cwd=folder, capture_output=True, text=True, check=False)
        assert done.returncode == 0, done.stderr


@pytest.mark.long
def test_the_csv_twins_carry_licence_and_checksums(tmp_path):
    files = {p.name: p for p in export(BUILT, tmp_path / "out")}
    text = files["LICENSE"].read_text(encoding="utf-8")
    apart = text[text.index("CC-BY-SA-4.0"):]
    assert "  open_pins.csv" in apart and "  tubes.csv" in text[:text.index("CC-BY-SA-4.0")] and "  tubes.csv" not in apart
    assert {line.split("  ")[1] for line in files[SUMS].read_text(encoding="utf-8").splitlines() if line[0] != "#"} == \
        files.keys() - {SUMS}


def test_the_catalogue_of_the_folder_one_stands_in_is_never_taken_unnamed(tmp_path, monkeypatch, small):
    """Another's checkout, or what looks like one, with other figures in it."""
    other = tmp_path / "checkout"
    (other / "pipeline").mkdir(parents=True)
    (other / "pipeline" / "catalogue.py").write_text("", encoding="utf-8")
    shutil.copytree(small, other / "data_built")
    (other / "deep" / "down").mkdir(parents=True)
    for place in (other, other / "deep" / "down"):
        monkeypatch.chdir(place)
        assert default_folder() == BUILT and Catalogue().folder == BUILT
    assert Catalogue(other / "data_built").folder == other / "data_built", "named, it is read"


@pytest.mark.long
def test_a_build_elsewhere_says_how_to_read_it(tmp_path):
    raw = write(tmp_path / "raw", {"lamps": LAMPS.encode()})
    done = CliRunner().invoke(app, ["build", "--raw", str(raw), "--out", str(tmp_path / "out")])
    assert done.exit_code == 0 and done.stderr == f"to read it, name it: --catalogue {tmp_path / 'out'}\n"
