"""unit.toml changed in place: what was asked is read back, and all else stays as it was typed, letter by letter."""

import difflib
import tomllib

import pytest
from support import ROOT

from pipeline.bench.start import KINDS, Answers, Region, toml_of
from pipeline.unit.toml_editing import EditedToml

UNITS = sorted((ROOT / "data_raw/units").glob("*/unit.toml"))
HERE = Region("here", 230.0, 253.0, 207.0, 50.0)


def changed(before, after):
    """Lines taken away and put in, blank ones left out."""
    lines = [line for line in difflib.ndiff(before.splitlines(), after.splitlines()) if line[2:].strip()]
    return [line[2:] for line in lines if line.startswith("- ")], [line[2:] for line in lines if line.startswith("+ ")]


@pytest.mark.parametrize("path", UNITS, ids=lambda p: p.parent.name)
def test_only_what_was_asked_changes(path):
    text = path.read_text(encoding="utf-8")
    edited = EditedToml(text)
    edited.top({"mains_low_v": 100.5})
    edited.put("supply", 0, {"added_ohm": 12, "secondary_a": None})
    edited.put_node(0, 1 if len(edited.tables("supply")[0]["node"]) > 1 else None, {"load_a": 0.0125})
    edited.put("stage", None, {"tubes": ["V1"], "plate": "B1"})
    data, was = tomllib.loads(edited.text), tomllib.loads(text)
    supply = was["supply"] if isinstance(was["supply"], dict) else was["supply"][0]
    supply["added_ohm"] = 12
    supply.pop("secondary_a", None)
    if len(supply["node"]) > 1:
        supply["node"][1]["load_a"] = 0.0125
    else:
        supply["node"].append({"load_a": 0.0125})
    was = {**was, "mains_low_v": 100.5, "stage": [*was.get("stage", []), {"tubes": ["V1"], "plate": "B1"}]}
    assert data == was
    gone, _ = changed(text, edited.text)
    assert not [line for line in gone if not line.startswith(("secondary_a", "load_a", "added_ohm"))]


@pytest.mark.parametrize("kind", KINDS)
def test_a_new_file_is_filled_in_where_its_remarks_say(kind):
    """`# amps = 3.0   # its rating` becomes the key itself; no remark is lost."""
    text = toml_of(Answers("A set", kind, HERE, 231.0, 50.0))
    edited = EditedToml(text)
    if "# design_mains_v" in text:
        edited.top({"design_mains_v": 220})
    table = "string" if edited.tables("string") else "winding"
    edited.put(table, 0, {"amps": 2.5})
    gone, come = changed(text, edited.text)
    assert all(line.startswith(("# design_mains_v", "# amps", "amps")) for line in gone)
    assert [line.split("#")[-1] for line in gone if line.count("#") > 1] == [
        line.split("#")[-1] for line in come if "#" in line][:len([g for g in gone if g.count("#") > 1])]
    assert edited.tables(table)[0]["amps"] == 2.5


def test_headers_keep_one_blank_line_before_them():
    edited = EditedToml('name = "x"\n')
    for n in range(3):
        edited.put("winding", None, {"id": f"H{n}", "volts": 6.3})
    edited.put("supply", None, {"rectifier": "V5"})
    edited.put_node(0, None, {"id": "B1"})
    edited.put("winding", None, {"id": "H3"})
    edited.drop("winding", 1)
    assert edited.text == ('name = "x"\n\n[[winding]]\nid = "H0"\nvolts = 6.3\n\n[[winding]]\nid = "H2"\nvolts = 6.3\n\n'
                           '[[winding]]\nid = "H3"\n\n[[supply]]\nrectifier = "V5"\n\n[[supply.node]]\nid = "B1"\n')


def test_tables_in_braces_are_added_to():
    edited = EditedToml('winding = [{id = "H1", volts = 6.3}] # both\nsupply = [{rectifier = "V1", node = [{id = "B1"}]}]\n')
    edited.put("winding", 0, {"amps": 2})
    edited.put("winding", None, {"id": "H2"})
    edited.put_node(0, None, {"id": "B2", "from": "B1"})
    assert edited.text == ('winding = [{id = "H1", volts = 6.3, amps = 2}, {id = "H2"}] # both\n'
                           'supply = [{rectifier = "V1", node = [{id = "B1"}, {id = "B2", from = "B1"}]}]\n')


def test_what_is_no_toml_is_refused():
    with pytest.raises(ValueError, match="mend it first"):
        EditedToml("a = = 1")
