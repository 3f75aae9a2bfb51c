"""The data package: valid for others' validators, true of its files, and its version tied to what changed."""

import hashlib
import importlib.util
import json
import os
import re
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

import duckdb
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from bad_rows import GOOD, HEADER, write
from typer.testing import CliRunner

from pipeline.build.dictionary import dictionary
from pipeline.build.export import export
from pipeline.build.history import STEPS, compare, step_between
from pipeline.build.package import described, title
from pipeline.build.run import build
from pipeline.build.write import rendered, to_arrow
from pipeline.cli import app
from pipeline.sums import SUMS, written
from schemas.built import BUILT, DATA_CREATED, DATA_VERSION
from schemas.columns import COLUMNS
from tests.support import ROOT

BUILT_FOLDER = ROOT / "data_built"
SCHEMA_PACKAGE, SCHEMA_FILE = "check-datapackage==0.37.0", "check_datapackage/schemas/data-package-2-0.json"
"""A package of PyPI (MIT) that carries the JSON schema published at datapackage.org, version 2.0."""


@pytest.fixture(scope="module")
def package() -> dict:
    return json.loads((BUILT_FOLDER / "datapackage.json").read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def csv_twins(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("export") / "csv"
    export(BUILT_FOLDER, folder)
    return folder


@pytest.fixture(scope="session")
def published_schema(tmp_path_factory, pytestconfig) -> dict:
    """The standard's own JSON schema, from the installed package or its wheel; skips where neither can be had."""
    if found := importlib.util.find_spec("check_datapackage"):
        return json.loads((Path(found.origin).parent / "schemas/data-package-2-0.json").read_text(encoding="utf-8"))
    wheels = pytestconfig.cache.mkdir("datapackage-schema")
    if not list(wheels.glob("*.whl")):
        subprocess.run([sys.executable, "-m", "pip", "download", "-q", "--no-deps", "--only-binary=:all:",
                        "--python-version", "3.12", "-d", str(wheels), SCHEMA_PACKAGE], check=False, timeout=60,
                       capture_output=True)
    for wheel in wheels.glob("*.whl"):
        return json.loads(zipfile.ZipFile(wheel).read(SCHEMA_FILE))
    pytest.skip(f"{SCHEMA_PACKAGE} can neither be imported nor downloaded: the published schema is not compared")


@pytest.mark.long
@pytest.mark.parametrize("kind", ["parquet", "csv"])
def test_valid_by_the_published_json_schema(kind, package, csv_twins, published_schema):
    jsonschema = pytest.importorskip("jsonschema")
    given = package if kind == "parquet" else json.loads((csv_twins / "datapackage.json").read_text(encoding="utf-8"))
    wrong = jsonschema.validators.validator_for(published_schema)(published_schema).iter_errors(given)
    assert [f"{e.json_path}: {e.message[:200]}" for e in wrong] == []
    harmed = given | {"resources": [{k: v for k, v in given["resources"][0].items() if k != "path"}]}
    assert not jsonschema.validators.validator_for(published_schema)(published_schema).is_valid(harmed)


@pytest.mark.long
@pytest.mark.parametrize("kind", ["parquet", "csv"])
def test_valid_by_frictionless_down_to_keys_and_links(kind, csv_twins, tmp_path):
    frictionless = pytest.importorskip("frictionless")
    folder = BUILT_FOLDER if kind == "parquet" else csv_twins
    path = folder / "datapackage.json"
    slow = () if kind == "csv" or os.environ.get("CI") == "true" else ("figures", "pins")
    if slow:  # it reads a Parquet file cell by cell: the two large ones only in CI
        shutil.copytree(folder, tmp_path / "some")
        path = edited(tmp_path / "some", lambda tables, package: [package["resources"].remove(tables[n]) for n in slow])
        path /= "datapackage.json"
    report = frictionless.validate(str(path))
    assert report.flatten(["title", "message"]) == []
    assert report.stats["tasks"] == len(BUILT) - len(slow)


@pytest.mark.long
def test_frictionless_would_see_a_broken_link(csv_twins, tmp_path):
    frictionless = pytest.importorskip("frictionless")
    broken = tmp_path / "broken"
    export(BUILT_FOLDER, broken)
    path = broken / "sections.csv"
    path.write_text(path.read_text(encoding="utf-8").replace("\n12AX7,", "\nNOTUBE,"), encoding="utf-8")
    assert not frictionless.validate(str(broken / "datapackage.json")).valid


def test_every_hash_count_and_link_is_true(package):
    tables = {r["name"]: f"read_parquet('{BUILT_FOLDER / r['path']}')" for r in package["resources"]}
    for resource in package["resources"]:
        assert resource["hash"] == "sha256:" + hashlib.sha256((BUILT_FOLDER / resource["path"]).read_bytes()).hexdigest()
        own, schema = tables[resource["name"]], resource["schema"]
        key = ", ".join(f'"{c}"' for c in (schema.get("primaryKey") or schema["uniqueKeys"][0]))
        assert duckdb.sql(f"select count(*) from {own}").fetchall()[0][0] == resource["rowCount"]
        assert duckdb.sql(f"select {key} from {own} group by all having count(*) > 1").fetchall() == [], resource["name"]
        for link in schema.get("foreignKeys", []):
            column, target = link["fields"][0], link["reference"]["fields"][0]
            lost = duckdb.sql(f'select distinct "{column}" from {own} where "{column}" not in '
                              f'(select "{target}" from {tables[link["reference"]["resource"]]})').fetchall()
            assert lost == [], f"{resource['name']}.{column}"


def test_every_table_says_licence_and_sources(package):
    sources = {s["id"] for s in package["sources"]}
    for resource in package["resources"]:
        (licence,) = resource["licenses"]
        assert licence["name"] == ("CC-BY-SA-4.0" if resource["name"].startswith("open_") else "CC0-1.0")
        empty = resource["rowCount"] == 0 or resource["name"] in ("sources", "gaps", "questions", "releases")
        assert empty or {s["id"] for s in resource["sources"]} <= sources and resource["sources"], resource["name"]
        (missing,) = resource["schema"]["missingValues"]
        assert missing["value"] == "" and re.search("not stated|does not apply", missing["label"])


def test_units_stand_in_the_package_its_titles_and_the_parquet_files(package):
    tubes = {f["name"]: f for r in package["resources"] if r["name"] == "tubes" for f in r["schema"]["fields"]}
    assert (tubes["heater_a"]["unit"], tubes["heater_a"]["title"]) == ("A", "heater (A)")
    note = pq.ParquetFile(BUILT_FOLDER / "tubes.parquet").schema_arrow.field("heater_a").metadata
    assert note == {b"description": COLUMNS["heater_a"].meaning.encode(), b"unit": b"A"}
    assert title(COLUMNS["heater_cathode_negative_max_v"]) == "heater cathode negative max (V)"
    assert title(COLUMNS["mu"]) == "mu"


def test_the_same_column_has_one_unit_everywhere(package):
    units: dict[str, set] = {}
    for resource in package["resources"]:
        for field in resource["schema"]["fields"]:
            units.setdefault(field["name"], set()).add((field["type"], field.get("unit")))
    assert {name: found for name, found in units.items() if len(found) > 1} == {"value": {("number", None), ("number", "1")}}


def test_the_description_holds_every_column_of_the_files(package):
    for resource in package["resources"]:
        names = pq.ParquetFile(BUILT_FOLDER / resource["path"]).schema_arrow.names
        assert [f["name"] for f in resource["schema"]["fields"]] == names == [c.name for c in BUILT[resource["name"]].columns]


@pytest.mark.long
def test_csv_twins_hold_the_same_values(package, csv_twins):
    for resource in json.loads((csv_twins / "datapackage.json").read_text(encoding="utf-8"))["resources"]:
        path, columns = csv_twins / resource["path"], resource["schema"]["fields"]
        data = path.read_bytes()
        assert (resource["bytes"], resource["hash"]) == (len(data), "sha256:" + hashlib.sha256(data).hexdigest())
        kinds = {"string": "varchar", "number": "double", "integer": "bigint", "boolean": "boolean"}
        types = ", ".join(f"'{f['name']}': '{kinds[f['type']]}'" for f in columns)
        twin = f"read_csv('{path}', header=true, nullstr='', columns={{{types}}})"
        built = f"read_parquet('{BUILT_FOLDER / resource['name']}.parquet')"
        assert duckdb.sql(f"(from {twin} except all from {built}) union all (from {built} except all from {twin})") \
            .fetchall() == [], resource["name"]


def test_an_export_is_whole_or_not_at_all(tmp_path):
    mine = tmp_path / "mine"
    mine.mkdir()
    (mine / "letter.txt").write_text("mine", encoding="utf-8")
    for force in (False, True):
        with pytest.raises(FileExistsError):
            export(BUILT_FOLDER, mine, force=force)
    export(BUILT_FOLDER, tmp_path / "out")
    with pytest.raises(FileExistsError):
        export(BUILT_FOLDER, tmp_path / "out")
    (tmp_path / "out" / "tubes.csv").write_text("old", encoding="utf-8")
    export(BUILT_FOLDER, tmp_path / "out", force=True)
    assert (tmp_path / "out" / "tubes.csv").stat().st_size > 10_000
    with pytest.raises(OSError):
        export(tmp_path / "nowhere", tmp_path / "new")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["mine", "out"]


def test_the_dictionary_explains_every_table_and_column():
    text = dictionary()
    for built in BUILT.values():
        part = text.split(f"\n## {built.name}\n")[1].split("\n## ")[0]
        assert all(f"| `{c.name}`" in part and c.meaning in part for c in built.columns), built.name
        assert built.licence in part


# The version: corrected value = patch, new rows = minor, column added, removed or redefined = major
# (Data Package standard, recipe "Data Package version", recalled).

TUBE = {"type": "6J5", "function": "triode", "heater_v": 6.3, "heater_a": 0.3, "evidence": "recalled"}
SOURCE = {"source_id": "book", "title": "A Book", "kind": "handbook"}


def made(folder: Path, tubes: list[dict], version: str = DATA_VERSION, **more: list[dict]) -> Path:
    """A small built catalogue: `tubes`, one source, and other tables by name."""
    rows = {"sources": [SOURCE], "tubes": tubes, "figures": []} | more
    files = rendered({name: to_arrow(found, BUILT[name].types) for name, found in rows.items()}, "0" * 64)
    folder.mkdir()
    for name, data in files.items():
        text = data.replace(f'"version": "{DATA_VERSION}"'.encode(), f'"version": "{version}"'.encode(), 1)
        (folder / name).write_bytes(text if name == "datapackage.json" else data)
    return summed(folder)


def summed(folder: Path) -> Path:
    """The catalogue with checksums of the files that now lie there."""
    files = {p.name: p.read_bytes() for p in sorted(folder.iterdir()) if p.name != SUMS}
    (folder / SUMS).write_text(written(files, "0" * 64), encoding="utf-8")
    return folder


def edited(folder: Path, edit) -> Path:
    """The catalogue with its description edited as a later schema would have it."""
    path = folder / "datapackage.json"
    package = json.loads(path.read_text(encoding="utf-8"))
    edit({r["name"]: r for r in package["resources"]}, package)
    path.write_text(json.dumps(package), encoding="utf-8")
    return summed(folder)


def without_field(name: str):
    def edit(tables, _):
        tables["tubes"]["schema"]["fields"] = [f for f in tables["tubes"]["schema"]["fields"] if f["name"] != name]
    return edit


def other_unit(tables, _):
    next(f for f in tables["tubes"]["schema"]["fields"] if f["name"] == "heater_a")["unit"] = "mA"


def other_words(tables, _):
    next(f for f in tables["tubes"]["schema"]["fields"] if f["name"] == "heater_a")["description"] = "in better words"


CASES = {
    "nothing": ("none", [TUBE], {}, None),
    "a corrected value": ("patch", [TUBE | {"heater_a": 0.31}], {}, None),
    "a value found": ("patch", [TUBE | {"base": "octal"}], {}, None),
    "a better description": ("patch", [TUBE], {}, other_words),
    "a new row": ("minor", [TUBE, TUBE | {"type": "6C5"}], {}, None),
    "a new row and a corrected value": ("minor", [TUBE | {"heater_a": 0.31}, TUBE | {"type": "6C5"}], {}, None),
    "a new table": ("minor", [TUBE], {"lamps": [{"type": "47", "lamp_v": 6.3, "evidence": "recalled"}]}, None),
    "a new source": ("patch", [TUBE], {"sources": [SOURCE, SOURCE | {"source_id": "sheet"}]}, None),
    "a lost row": ("major", [], {}, None),
    "a lost column": ("major", [TUBE], {}, without_field("base")),
    "another unit": ("major", [TUBE], {}, other_unit),
    "a lost table": ("major", [TUBE], {}, lambda tables, package: package["resources"].remove(tables["figures"])),
}


@pytest.mark.parametrize("case", CASES)
def test_the_least_step_that_a_change_asks_for(case, tmp_path):
    step, tubes, more, edit = CASES[case]
    old, new = made(tmp_path / "old", [TUBE]), made(tmp_path / "new", tubes, **more)
    assert compare(old, edited(new, edit) if edit else new).step == step


def test_a_new_column_is_a_major_step(tmp_path):
    old, new = made(tmp_path / "old", [TUBE]), made(tmp_path / "new", [TUBE])
    history = compare(edited(old, without_field("base")), new)
    assert history.step == "major"
    assert [(c.kind, c.table, c.column) for c in history.changes] == [("column added", "tubes", "base")]


@pytest.mark.parametrize("raised", STEPS)
@pytest.mark.parametrize("case", ["nothing", "a corrected value", "a new row", "a lost row"])
def test_the_version_must_be_raised_at_least_that_far(case, raised, tmp_path):
    versions = {"none": "1.2.3", "patch": "1.2.4", "minor": "1.3.0", "major": "2.0.0"}
    step, tubes, _, _ = CASES[case]
    old, new = made(tmp_path / "old", [TUBE], "1.2.3"), made(tmp_path / "new", tubes, versions[raised])
    asked = "patch" if step == "none" and raised != "none" else step  # the raised version is itself a change
    history = compare(old, new)
    assert history.step == asked
    assert history.version_fits == (STEPS.index(raised) >= STEPS.index(asked))


@pytest.mark.parametrize(("old", "new", "step"), [
    ("0.1.0", "0.1.0", "none"), ("0.1.9", "0.1.10", "patch"), ("0.1.9", "0.2.0", "minor"), ("0.9.9", "1.0.0", "major"),
    ("1.2.0", "1.1.9", "none")])
def test_the_step_between_two_versions(old, new, step):
    assert step_between(old, new) == step


@pytest.mark.long
def test_the_changes_command(tmp_path):
    old, new = made(tmp_path / "old", [TUBE]), made(tmp_path / "new", [TUBE | {"heater_a": 0.31}])

    def run(*words: object) -> subprocess.CompletedProcess:
        return subprocess.run([sys.executable, "-c", "from pipeline.cli import main; main()", "changes",
                               *map(str, words)], cwd=ROOT, capture_output=True, text=True, check=False)

    done = run(old, new)
    assert done.returncode == 0
    assert done.stdout.splitlines() == ["tubes 6J5: heater_a: 0.3 -> 0.31",
                                        f"version {DATA_VERSION} -> {DATA_VERSION}; the changes ask for a patch"]
    told = json.loads(run(old, new, "--format", "json").stdout)
    assert (told["step"], told["version_fits"], told["changes"][0]["new"]) == ("patch", False, 0.31)
    listed = f"{DATA_VERSION},{DATA_CREATED},tubes,value,1,heater_a"
    assert run(old, new, "--release").stdout.splitlines()[:2] == ["version,released,table,change,count,what", listed]
    assert run(old, new, "--check-version").returncode == 1 and run(old, old, "--check-version").returncode == 0
    for words in ((old, tmp_path / "nowhere"), (old, tmp_path)):
        done = run(*words)
        assert done.returncode == 2 and done.stdout == "" and done.stderr.count("\n") == 1


AS_BUILT = {
    # what was changed in the raw tables: (their new rows, the step it asks for)
    "nothing": (GOOD, "none"),
    "a value": (GOOD.replace("0.3", "0.31"), "patch"),
    "a row added": (GOOD + GOOD.replace("6J5", "6C5"), "minor"),
    "a row lost": ("", "major"),
    "a column lost": (GOOD, "major"),
}
RAISED = {"none": "1.2.3", "patch": "1.2.4", "minor": "1.3.0", "major": "2.0.0"}


def without_column(folder: Path, table: str, column: str) -> None:
    """The built catalogue as one without that column would be, in its file and its description."""
    path = folder / f"{table}.parquet"
    pq.write_table(pq.ParquetFile(path).read().drop_columns([column]), path)
    edited(folder, without_field(column))


@pytest.mark.parametrize("raised", RAISED)
@pytest.mark.parametrize("change", AS_BUILT)
def test_a_version_raised_too_little_is_refused_by_the_command(change, raised, tmp_path, monkeypatch):
    """Two catalogues built from raw tables, the later one with its version raised by some step, and `changes` asked."""
    rows, asked = AS_BUILT[change]
    for name, tubes, version in (("old", GOOD, RAISED["none"]), ("new", rows, RAISED[raised])):
        monkeypatch.setattr("pipeline.build.package.DATA_VERSION", version)
        build(write(tmp_path / f"raw-{name}", {"tubes": HEADER + tubes}), tmp_path / name)
    if change == "a column lost":
        without_column(tmp_path / "new", "tubes", "envelope")
    done = CliRunner().invoke(app, ["changes", str(tmp_path / "old"), str(tmp_path / "new"), "--check-version",
                                    "--format", "json"])
    told = json.loads(done.stdout)
    least = "patch" if asked == "none" and raised != "none" else asked  # another version is a change of its own
    assert (told["step"], told["old_version"], told["new_version"]) == (least, RAISED["none"], RAISED[raised])
    enough = STEPS.index(raised) >= STEPS.index(asked)
    assert told["version_fits"] is enough and done.exit_code == (0 if enough else 1)


def test_a_version_that_is_lowered_is_refused(tmp_path):
    old, new = made(tmp_path / "old", [TUBE], "1.3.0"), made(tmp_path / "new", [TUBE | {"heater_a": 0.31}], "1.2.9")
    assert not compare(old, new).version_fits


@pytest.mark.parametrize("harm", [
    lambda folder: edited(folder, lambda tables, package: package.update(version="1.2")),
    lambda folder: edited(folder, lambda tables, package: package.update(version="1.2.\x1b[1m3")),
    lambda folder: edited(folder, lambda tables, package: tables["tubes"].pop("schema")),
    lambda folder: (folder / "tubes.parquet").write_bytes(b"PAR1"),
    lambda folder: (folder / "tubes.parquet").unlink(),
    lambda folder: (folder / "datapackage.json").write_text("[]", encoding="utf-8"),
], ids=["version of two figures", "escape in the version", "no schema", "a broken table", "a lost table", "no package"])
def test_a_damaged_catalogue_is_told_in_one_line(harm, tmp_path):
    old, new = made(tmp_path / "old", [TUBE]), made(tmp_path / "new", [TUBE | {"heater_a": 0.31}])
    harm(new)
    done = CliRunner().invoke(app, ["changes", str(old), str(new)])
    assert done.exit_code == 2 and done.stdout == "" and done.stderr.count("\n") == 1, done.output
    assert str(new) in done.stderr and done.stderr.strip().isprintable()


def test_a_table_of_figures_is_described_with_its_own_words():
    value = next(c for c in BUILT["figures"].columns if c.name == "value")
    assert (value.kind, value.unit) == ("number", None) and COLUMNS["value"].unit == "1"
    made_ = described({"sources": pa.table({n: pa.array([], pa.string()) for n in BUILT["sources"].types})},
                      {"sources.parquet": "0"})
    assert "sources" not in made_["resources"][0], "the list of sources names no sources of its own"


def test_this_version_says_what_it_changed():
    """The list of this version stands among the raw tables; CI holds it against what `changes` finds."""
    rows = duckdb.sql(f"select * from '{BUILT_FOLDER}/releases.parquet'").df()
    mine = rows[rows.version == DATA_VERSION]
    assert len(mine) and set(mine.released) == {DATA_CREATED} and (mine["count"] > 0).all()
    assert not mine.duplicated(["table", "change"]).any()
