"""Commands as a person runs them: what they print, in which format, with which exit status."""

import csv
import io
import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from support import some

ROOT = Path(__file__).resolve().parents[1]


def run(*words, cwd=ROOT, stdin=None):
    return subprocess.run([sys.executable, "-c", "from pipeline.cli import main; main()", *map(str, words)], cwd=cwd,
                          capture_output=True, text=True, input=stdin, check=False, env=_env())


def _env():
    import os

    return {**os.environ, "PYTHONPATH": str(ROOT), "COLUMNS": "100"}


def test_show_json_gives_one_object_for_each_name():
    done = run("show", "ECL86", "GZ34", "no such tube", "--format", "json")
    assert done.returncode == 3
    power, rectifier, unknown = json.loads(done.stdout)
    assert (power["asked"], power["type"], power["heater_v"]) == ("ECL86", "6GW8", 6.3)
    assert {s["section"] for s in power["sections"]} >= {"pentode"}
    assert (rectifier["type"], rectifier["base"], rectifier["input_capacitor_max_uf"]) == ("5AR4", "octal", 60.0)
    assert unknown["type"] is None and unknown["why"]


def test_a_figure_alike_in_all_sections_stands_at_the_top():
    (twin,) = json.loads(run("show", "12AX7", "--format", "json").stdout)
    assert twin["plate_dissipation_max_w"] == 1.0 and twin["mu"] == 100.0


@pytest.mark.long
def test_show_text_has_ratings_names_base_sources_and_disagreements():
    text = run("show", "EF86").stdout
    for words in ("6267", "noval", "EF86", "heater volts", "at most", "mA/V", "sources", "seen from below", "cathode"):
        assert words in text, words
    assert "sources differ" in run("show", "5AR4").stdout
    assert "every observation" in run("show", "5AR4", "--all").stdout


def test_show_names_sheet_date_and_page_and_draws_the_drop_curve():
    """Mazda, EZ80, August 1963, Issue 1: page 2 holds the curve, 62.5 mA at 20 V (read)."""
    text = " ".join(run("show", "EZ80").stdout.split())
    assert "(Mazda), August 1963, Issue 1; page 1, page 2, page 3 (mazda-ez80-1963)" in text
    assert "20 V across it: current at that drop 62.5 mA (published [" in text


@pytest.mark.long
def test_show_csv_is_figures_with_their_sources():
    rows = list(csv.DictReader(io.StringIO(run("show", "5AR4", "--format", "csv").stdout)))
    assert {"quantity", "value", "evidence", "source_id", "raw_file", "raw_line"} <= rows[0].keys()
    assert any(r["quantity"] == "piv_max_v" for r in rows)


@pytest.mark.long
@pytest.mark.parametrize(("words", "first"), [
    (["--heater-v", "6.3", "--base", "noval", "--function", "twin triode", "ECC83"], "12AX7"),
    (["--function", "full-wave rectifier", "GZ34"], "5AR4")])
def test_find_sorts_by_nearness(words, first):
    rows = json.loads(run("find", *words, "--format", "json").stdout)
    assert rows[0]["type"] == first
    assert rows == sorted(rows, key=lambda r: (r["distance"], r["type"]))


def test_find_nothing_is_a_valid_answer():
    done = run("find", "--heater-v", "140")
    assert done.returncode == 0 and "no type" in done.stdout


def test_read_contract():
    done = run("read", "16 by 450", "6GW8/ECL86", "1 µF 400 VAC", "4K7", "#47", "nonsense !!", "--format", "json")
    can, tube, motor, resistor, lamp, nothing = json.loads(done.stdout)
    assert can["sections"] == [{"uf": 16.0, "volts_dc": 450.0}] and can["kind"] == "capacitor"
    assert tube["type"] == "6GW8" and tube["via"]
    assert (motor["volts_ac"], motor["polarised"]) == (400.0, False)
    assert resistor["ohms"] == 4700.0
    assert lamp["type"] == "47"
    assert nothing["kind"] is None and nothing["why"]
    assert done.returncode == 3


@pytest.mark.long
def test_swap_says_what_would_change():
    done = run("swap", "data_raw/units/hall-amplifier", "V6", "GZ34", "--format", "json")
    said = json.loads(done.stdout)
    assert said["type"] == "5AR4"
    changes = {c["what"]: (c["before"], c["after"]) for c in said["changes"]}
    assert changes["heater amps"] == (3.0, 1.9)
    assert changes["B1 volts"][1] > changes["B1 volts"][0], "less drop: B+ rises"
    assert changes["B1 at switch-on"][1] < changes["B1 at switch-on"][0], "a slow heater: no full surge"


@pytest.mark.long
@pytest.mark.parametrize(("type_", "status", "verdict"), [
    ("12AX7", 1, "does not fit"), ("no such", 3, "cannot tell"), ("6SN7GT", 0, "fits")])
def test_swap_verdicts(type_, status, verdict):
    done = run("swap", "data_raw/units/hall-amplifier", "V3" if verdict == "fits" else "V2", type_)
    assert done.returncode == status, done.stdout + done.stderr
    assert verdict in done.stdout.splitlines()[0]


@pytest.mark.long
def test_swap_refuses_a_ref_that_is_no_tube():
    done = run("swap", "data_raw/units/hall-amplifier", "V66", "12AX7")
    assert done.returncode == 2 and "did you mean V6?" in done.stderr


@pytest.fixture
def checkout(tmp_path):
    shutil.copytree(ROOT / "data_raw", tmp_path / "data_raw")
    shutil.copytree(ROOT / "data_built", tmp_path / "data_built")
    return tmp_path


@pytest.mark.long
def test_add_checks_before_it_writes(checkout):
    row = ["add", "lamps", "type=9999", "lamp_v=6.3", "lamp_a=0.2", "evidence=recalled"]
    bad = run(*row, "source_id=no-such-book", cwd=checkout)
    assert bad.returncode == 2 and "source-unknown" in bad.stderr
    assert not (checkout / "data_raw/parts/lamps/added.csv").exists()
    source = next(csv.DictReader((ROOT / "data_raw/sources/parts.csv").open(encoding="utf-8")))["source_id"]
    dry = run(*row, f"source_id={source}", "--dry-run", cwd=checkout)
    assert dry.returncode == 0 and not (checkout / "data_raw/parts/lamps/added.csv").exists()
    assert run(*row, f"source_id={source}", cwd=checkout).returncode == 0
    assert run("build", cwd=checkout).returncode == 0
    (lamp,) = json.loads(run("show", "9999", "--format", "json", "--catalogue", "data_built", cwd=checkout).stdout)
    assert lamp["lamp_a"] == 0.2


@pytest.mark.long
@pytest.mark.parametrize(("words", "what"), some(1, [
    (["add", "tubs"], "did you mean tubes?"), (["add", "tubes", "typ=6K7"], "did you mean type?"),
    (["add", "tubes", "6K7"], "field=value"), (["add", "lamps", "type=1", "--file", "../x.csv"], "without a folder")]))
def test_add_refusals(words, what, checkout):
    done = run(*words, cwd=checkout)
    assert done.returncode == 2 and what in done.stderr


@pytest.mark.long
def test_confirm_writes_a_new_observation_and_keeps_the_old(checkout):
    listed = run("confirm", "5U4GB", "--out", "data_built", cwd=checkout)
    assert "piv_max_v" in listed.stdout and listed.returncode == 0
    nothing = run("confirm", "5U4GB", "piv_max_v=1550", "--out", "data_built", cwd=checkout)
    assert nothing.returncode == 2 and "document" in nothing.stderr
    done = run("confirm", "5U4GB", "piv_max_v=1550", "--source", "a-book-in-hand", "--title", "A book in hand",
               "--locator", "page 7", cwd=checkout)
    assert done.returncode == 0, done.stderr
    (shown,) = json.loads(run("show", "5U4GB", "--all", "--format", "json", "--catalogue", "data_built",
                              cwd=checkout).stdout)
    seen = [o for o in shown["observations"] if o["quantity"] == "piv_max_v" and o["table"] == "rectifiers"]
    assert {(o["evidence"], o["chosen"]) for o in seen} >= {("published", True), ("recalled", False)}


def test_start_makes_a_unit_that_checks(tmp_path, catalogue):
    from pipeline.unit import load

    done = run("start", tmp_path / "radio", "--mains-v", "121", "--transformerless")
    assert done.returncode == 0
    assert load(tmp_path / "radio", catalogue).strings["S1"].amps == 0.15
    again = run("start", tmp_path / "radio")
    assert again.returncode == 2 and "there already" in again.stderr


@pytest.mark.long
def test_help_of_every_command_has_an_example():
    commands = [line.split()[0] for line in run("--help").stdout.split("Commands:")[1].splitlines() if line.strip()]
    commands = [c for c in commands if c.isalpha()]
    assert {"build", "check", "show", "find", "read", "swap", "add", "confirm", "start", "tidy"} <= set(commands)
    for command in ("build", "check", "show", "find", "read", "swap", "add", "confirm", "start", "tidy"):
        assert "Example: tubewright " + command in run(command, "--help").stdout
