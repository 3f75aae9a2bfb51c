"""Many units in one go: one broken unit never costs the others, every way out holds the same findings."""

import json
import os
import pty
import re
import shutil
import subprocess
import sys
from pathlib import Path

import duckdb
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from support import some

from pipeline.bench.collection import FINDINGS, UNREADABLE, check_batch, check_many
from pipeline.bench.folders import is_collection, unit_folders
from pipeline.checks.check import check
from pipeline.unit import load
from tests.benchmarks.units import generate

ROOT = Path(__file__).resolve().parents[2]
DEMOS = sorted(p for p in (ROOT / "data_raw" / "units").iterdir() if p.is_dir())
RUN = [sys.executable, "-c", "from pipeline.cli import main; main()", "check"]


@pytest.fixture
def shelf(tmp_path) -> Path:
    """Three demo units at different depths, and three broken ones among them."""
    root = tmp_path / "shelf"
    for place, demo in zip(("a/hall", "b", "c/d/e"), DEMOS, strict=False):
        shutil.copytree(demo, root / place)
    for name, toml in (("bad-toml", "mains_v = = 3"), ("bad-value", 'name = "x"\nmains_v = -1\n')):
        (root / name).mkdir()
        (root / name / "unit.toml").write_text(toml, encoding="utf-8")
        (root / name / "parts.csv").write_text("ref,marking\nV1,12AX7\n", encoding="utf-8")
    (root / "half").mkdir()
    (root / "half" / "parts.csv").write_bytes(b"\xff\xfe\x00")
    (root / "empty").mkdir()
    (root / ".hidden").mkdir()
    (root / ".hidden" / "unit.toml").write_text("", encoding="utf-8")
    return root


def run(*words: object) -> subprocess.CompletedProcess:
    return subprocess.run([*RUN, *map(str, words)], cwd=ROOT, capture_output=True, text=True, check=False)


def rows(batches) -> list[dict]:
    return [row for batch in batches for row in batch.to_pylist()]


def test_every_unit_is_found_however_deep(shelf):
    found = [p.relative_to(shelf).as_posix() for p in unit_folders(shelf)]
    assert found == ["a/hall", "b", "bad-toml", "bad-value", "c/d/e", "half"]
    assert is_collection(shelf) and not is_collection(shelf / "b") and not is_collection(shelf / "empty")


def test_the_findings_are_those_of_one_unit_at_a_time(shelf, catalogue):
    found = rows(check_many(unit_folders(shelf), ROOT / "data_built", 1))
    for place in ("a/hall", "b", "c/d/e"):
        alone = [f.as_dict() for f in check(load(shelf / place, catalogue), catalogue).findings]
        many = [r for r in found if r["folder"] == str(shelf / place)]
        keys = ("check", "subject", "verdict", "figure", "limit", "unit", "evidence", "why", "do")
        assert [{k: r[k] for k in keys} for r in many] == [{k: r[k] for k in keys} for r in alone]


def test_a_broken_unit_is_one_row_and_the_rest_is_done(shelf):
    found = rows(check_many(unit_folders(shelf), ROOT / "data_built", 1))
    broken = {Path(r["folder"]).name: r["why"] for r in found if r["check"] == UNREADABLE}
    assert set(broken) == {"bad-toml", "bad-value", "half"}
    assert "unit.toml:1: not valid TOML" in broken["bad-toml"] and "mains_hz: is missing" in broken["bad-value"]
    assert len({r["folder"] for r in found}) == 6


def test_a_fault_of_ours_in_one_unit_is_a_row_too(shelf, monkeypatch):
    def fails(*given):
        raise ZeroDivisionError("made for the test")

    monkeypatch.setattr("pipeline.bench.portion.check", fails)
    found = rows(check_many([shelf / "b"], ROOT / "data_built", 1))
    assert [(r["check"], r["verdict"]) for r in found] == [(UNREADABLE, "unknown")]
    assert "ZeroDivisionError: made for the test" in found[0]["why"]


def test_a_fault_of_ours_in_solving_them_together_leaves_each_unit_to_itself(shelf, monkeypatch):
    folders = [shelf / "a/hall", shelf / "b"]
    wanted = rows(check_many(folders, ROOT / "data_built", 1))

    def fails(*given):
        raise ZeroDivisionError("made for the test")

    monkeypatch.setattr("pipeline.bench.portion.operating_points", fails)
    assert rows(check_many(folders, ROOT / "data_built", 1)) == wanted


@pytest.mark.long
def test_two_processes_find_what_one_finds_in_the_same_order(tmp_path):
    generate(tmp_path, 70)
    folders = unit_folders(tmp_path)
    assert rows(check_many(folders, ROOT / "data_built", 2)) == rows(check_many(folders, ROOT / "data_built", 1))


def test_a_further_process_loads_no_arrow_and_no_pandas(shelf):
    code = ("import sys; from pipeline.bench.portion import check_portion; "
            f"assert len(check_portion([{str(shelf / 'b')!r}], {str(ROOT / 'data_built')!r})) > 5; "
            "print([m for m in ('pandas', 'pandera', 'pyarrow', 'scipy', 'typer') if m in sys.modules])")
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


@pytest.mark.long
@pytest.mark.parametrize(("units", "status"), some(2, [
    (["bad-toml", "a"], 1), (["vague"], 3), (["a"], 1), (["bad-toml"], 2), (["fine"], 0), (["vague", "bad-toml"], 2)]))
def test_exit_status(shelf, tmp_path, units, status):
    for name, amps in (("fine", "amps = 2.0\n"), ("vague", "")):
        (shelf / name).mkdir()
        (shelf / name / "unit.toml").write_text('name = "x"\nmains_v = 117\nmains_high_v = 118\nmains_hz = 60\n'
                                                f'[[winding]]\nid = "H1"\nvolts = 6.3\n{amps}', encoding="utf-8")
        (shelf / name / "parts.csv").write_text("ref,marking,role,at\nV1,6J5,,H1\n", encoding="utf-8")
    root = tmp_path / "chosen"
    for name in units:
        shutil.copytree(shelf / name, root / name)
    done = run(root)
    assert done.returncode == status, done.stdout + done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.long
def test_every_way_out_holds_the_same_findings(shelf, tmp_path):
    printed = json.loads(run(shelf, "--format", "json").stdout)
    assert {r["folder"] for r in printed} == {"a/hall", "b", "bad-toml", "bad-value", "c/d/e", "half"}
    files = {"csv": tmp_path / "f.csv", "parquet": tmp_path / "f.parquet"}
    for path in files.values():
        assert run(shelf, "-o", path).returncode == 1
    assert run(shelf, "-o", tmp_path / "parts", "--partition").returncode == 1
    sources = [f"read_csv('{files['csv']}', all_varchar=true)", f"read_parquet('{files['parquet']}')",
               f"read_parquet('{tmp_path}/parts/*/*.parquet', hive_partitioning=true)"]
    wanted = sorted((r["folder"], r["check"], r["subject"] or "", r["verdict"]) for r in printed)
    for source in sources:
        sql = f"select folder, \"check\", coalesce(subject, ''), verdict from {source}"
        assert sorted(duckdb.sql(sql).fetchall()) == wanted
    assert {p.name for p in (tmp_path / "parts").iterdir()} == {f"verdict={r['verdict']}" for r in printed}


@pytest.mark.long
def test_what_stands_there_is_not_written_over_unasked(shelf, tmp_path):
    path, folder = tmp_path / "f.csv", tmp_path / "mine"
    path.write_text("mine", encoding="utf-8")
    folder.mkdir()
    (folder / "letter.txt").write_text("mine", encoding="utf-8")
    for words in (("-o", path), ("-o", folder, "--partition"), ("-o", folder, "--partition", "--force"),
                  ("-o", tmp_path / "f.xlsx"), ("--partition",)):
        done = run(shelf, *words)
        assert done.returncode == 2 and done.stdout == "" and "Traceback" not in done.stderr, words
    assert path.read_text() == "mine" and [p.name for p in folder.iterdir()] == ["letter.txt"]
    assert run(shelf, "-o", path, "--force").returncode == 1 and path.read_text().startswith("folder,")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["f.csv", "mine", "shelf"], "no litter"


@pytest.mark.long
def test_the_bar_is_for_a_terminal_only(shelf):
    assert "[#" not in run(shelf).stderr
    ours, theirs = pty.openpty()
    subprocess.run([*RUN, str(shelf)], cwd=ROOT, stdout=subprocess.DEVNULL, stderr=theirs, check=False)
    os.close(theirs)
    shown = os.read(ours, 100_000).decode()
    os.close(ours)
    assert "[##############################] 6 of 6 units" in shown


def test_a_batch_is_arrow_in_and_arrow_out(shelf):
    folders = pa.array([str(shelf / "b"), str(shelf / "bad-toml")], pa.string())
    found = check_batch(pa.RecordBatch.from_pydict({"folder": folders}), str(ROOT / "data_built"))
    assert found.schema == FINDINGS
    assert found.column("folder").unique().to_pylist() == folders.to_pylist()
    empty = check_batch(pa.RecordBatch.from_pydict({"folder": pa.array([], pa.string())}), str(ROOT / "data_built"))
    assert empty.num_rows == 0 and empty.schema == FINDINGS


@pytest.mark.long
def test_dask_spreads_the_same_function(tmp_path):
    dask = pytest.importorskip("dask", reason="Dask is not installed: the run in an outside engine is left out")
    generate(tmp_path, 12)
    folders = [str(p) for p in unit_folders(tmp_path)]
    batches = [pa.RecordBatch.from_pydict({"folder": folders[i:i + 4]}) for i in range(0, 12, 4)]
    parts = [dask.delayed(check_batch)(batch, str(ROOT / "data_built")) for batch in batches]
    found = dask.compute(*parts, scheduler="processes", num_workers=2)
    assert rows(found) == rows(check_many([Path(f) for f in folders], ROOT / "data_built", 1))


@pytest.mark.long
def test_the_readme_s_run_in_an_engine_does_what_it_says(tmp_path):
    """The block as printed, as a script of its own, over the demo units: every verdict a folder of the dataset."""
    pytest.importorskip("dask", reason="Dask is not installed: the run in an outside engine is left out")
    block = re.search(r"```python\n(.*?)```", (ROOT / "README.md").read_text(encoding="utf-8"), re.DOTALL)[1]
    folders = [str(p) for p in unit_folders(ROOT / "data_raw" / "units")]
    script = tmp_path / "fleet.py"
    script.write_text(block.replace("[...]", repr(folders)).replace('"data_built"', repr(str(ROOT / "data_built"))))
    subprocess.run([sys.executable, str(script)], cwd=tmp_path, env=os.environ | {"PYTHONPATH": str(ROOT)}, check=True)
    found = pq.read_table(tmp_path / "findings")
    assert set(found["folder"].to_pylist()) == set(folders)
    assert {p.name for p in (tmp_path / "findings").iterdir()} >= {"verdict=stop", "verdict=pass"}
