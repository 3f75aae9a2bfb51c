"""What someone who takes the tables away may rely on: names that stay, licences kept apart, links, words, empty cells."""

import json

import duckdb
import pytest
from build.bad_rows import write
from support import ROOT

from pipeline.build.catalogue import assemble
from schemas.built import BUILT, DATA_VERSION
from schemas.tables import CC0
from schemas.words import GAPS

BUILT_FOLDER = ROOT / "data_built"


def rows(sql: str) -> list[tuple]:
    """Rows of a query in which `{name}` stands for a built table."""
    return duckdb.sql(sql.format(**{name: f"'{BUILT_FOLDER}/{name}.parquet'" for name in BUILT})).fetchall()


@pytest.fixture(scope="module")
def package():
    return json.loads((BUILT_FOLDER / "datapackage.json").read_text(encoding="utf-8"))


LAMPS = ("type,lamp_v,lamp_a,base,bulb,bead,source_id,locator,evidence,note\n"
         "44,6.3,0.25,BA9s,,blue,book,page 1,quoted,\n47,6.3,0.15,BA9s,,brown,book,page 1,quoted,\n")


def test_an_observation_keeps_its_name_when_a_row_is_put_before_it(tmp_path):
    def ids(name: str, text: str) -> dict[tuple, str]:
        made = assemble(write(tmp_path / name, {"lamps": text.encode()}))["figures"].to_pylist()
        return {(f["table"], f["subject"], f["quantity"]): f["id"] for f in made}

    head, rest = LAMPS.split("\n", 1)
    before, after = ids("before", LAMPS), ids("after", f"{head}\n40,6.3,0.15,E10,,brown,book,page 1,quoted,\n{rest}")
    assert len(after) > len(before) > 4 and before.items() <= after.items()
    assert len(set(after.values())) == len(after), "no two of one name"
    other = ids("other", LAMPS.replace("page 1,quoted", "page 2,quoted"))
    assert not set(other.values()) & {i for (table, *_), i in before.items() if table == "lamps"}, "another page is another reading"


def test_every_observation_has_a_name_of_its_own():
    assert rows("select count(*), count(distinct id) from {figures}")[0][0] == rows("select count(distinct id) from {figures}")[0][0]
    assert rows("select count(*) from {figures} where not regexp_full_match(id, '[a-z2-7]{{12}}')") == [(0,)]


def test_every_row_of_a_wide_table_rests_on_a_figure(package):
    """The four regulators of which only the running volts are known had none."""
    of = {"pins": None, "gaps": None, "questions": None, "releases": None}
    for resource in package["resources"]:
        name = resource["name"]
        if name in of or name in ("sources", "figures", "disagreements", "corrections") or name.startswith("open_"):
            continue
        key = ", ".join(f'{{{name}}}."{k}"' for k in (resource["schema"].get("primaryKey") or resource["schema"]["uniqueKeys"][0]))
        wanted = rows(f"select count(*) from {{{name}}}")[0][0]
        found = rows(f"select count(distinct subject) from {{figures}} where \"table\" = '{name}' and chosen")[0][0]
        assert found == wanted, (name, key)


def test_no_table_under_cc0_holds_a_value_from_a_share_alike_library(package):
    share_alike = {r[0] for r in rows("select source_id from {sources} where licence like '%CC-BY-SA%' "
                                      "and licence not like '%facts only%'")}
    assert share_alike == {"kicad-symbols"}
    for resource in package["resources"]:
        named = {s["id"] for s in resource.get("sources", ())} & share_alike
        assert not named or resource["licenses"][0]["name"] == "CC-BY-SA-4.0", resource["name"]
    assert all(BUILT[r["name"]].licence != CC0 for r in package["resources"] if r["name"].startswith("open_"))
    assert rows("select count(*) from {open_disagreements} where other_source != 'kicad-symbols'") == [(0,)]
    assert "facts" in (ROOT / "LICENSE").read_text(encoding="utf-8").partition("share-alike")[2]


def test_the_package_says_which_state_of_the_catalogue_it_is(package):
    assert package["version"] == DATA_VERSION and package["contributors"] and package["created"].endswith("T00:00:00Z")
    assert package["contentHash"].startswith("sha256:") and len(package["contentHash"]) == 71
    assert package["contentHash"] not in {r["contentHash"] for r in package["resources"]}


@pytest.mark.long
def test_the_content_hash_is_of_the_content_alone(tmp_path):
    from pipeline.build.write import rendered

    def told(name: str, lamps: str) -> str:
        made = assemble(write(tmp_path / name, {"lamps": lamps.encode()}))
        return json.loads(rendered(made, "0" * 64)["datapackage.json"])["contentHash"]

    assert told("a", LAMPS) == told("b", LAMPS) != told("c", LAMPS.replace("0.15", "0.16"))


@pytest.mark.parametrize("link", [(b.name, x.column, x.table, x.target) for b in BUILT.values() for x in b.links],
                         ids=lambda x: f"{x[0]}.{x[1]}")
def test_every_link_holds(link):
    name, column, table, target = link
    assert rows(f'select distinct "{column}" from {{{name}}} where "{column}" is not null and "{column}" not in '
                f'(select "{target}" from {{{table}}})') == []


def test_the_links_that_hold_are_declared(package):
    told = {(r["name"], k["fields"][0]) for r in package["resources"] for k in r["schema"].get("foreignKeys", ())}
    assert {("rectifier_operation", "type"), ("substitutes", "substitute"), ("capacitor_stock", "kind"),
            ("resistor_stock", "kind"), ("open_diodes", "type"), ("figures", "source_id")} <= told


def test_columns_of_chosen_words_list_them(package):
    lists = {(r["name"], f["name"]): f.get("constraints", {}).get("enum") for r in package["resources"]
             for f in r["schema"]["fields"]}
    for place in (("tubes", "base"), ("sections", "section"), ("sections", "kind"), ("operating_points", "service"),
                  ("rectifiers", "kind"), ("diodes", "kind"), ("sources", "kind"), ("capacitor_roles", "role"), ("gaps", "means")):
        assert lists[place], place
        met = {r[0] for r in rows(f'select distinct "{place[1]}" from {{{place[0]}}} where "{place[1]}" is not null')}
        assert met <= set(lists[place])


@pytest.mark.long
def test_every_empty_cell_says_why_and_no_other_does(package):
    wide = [r for r in package["resources"] if r["name"] in {t for (t,) in rows('select distinct "table" from {gaps}')}]
    assert len(wide) > 10
    for resource in package["resources"]:
        name, fields = resource["name"], resource["schema"]["fields"]
        if not resource["schema"]["missingValues"][0]["label"].endswith("the table gaps says which") or name == "gaps":
            continue
        key = resource["schema"].get("primaryKey") or resource["schema"]["uniqueKeys"][0]
        for field in fields:
            if field["name"] in key or field["name"] == "evidence":
                continue
            empty = rows(f'select count(*) from {{{name}}} where "{field["name"]}" is null')
            told = rows(f"select count(*) from {{gaps}} where \"table\" = '{name}' and quantity = '{field['name']}'")
            assert empty == told, (name, field["name"])


@pytest.mark.parametrize(("place", "means"), [
    (("tubes", "0A2", "heater_v"), "does not apply"), (("sections", "12AX7/each", "screen_max_v"), "does not apply"),
    (("tubes", "12AX7", "heater_tolerance_pct"), None), (("capacitor_stock", "film/0.1/400/", "ripple_a"), "does not apply")])
def test_what_an_empty_cell_means(place, means):
    found = rows(f"select means from {{gaps}} where (\"table\", subject, quantity) = {place}")
    assert found == ([(means,)] if means else found) and all(m in GAPS for (m,) in found)


def test_a_document_that_leaves_a_thing_out_does_not_state_it(tmp_path):
    def meaning(evidence: str) -> str:
        made = assemble(write(tmp_path / evidence, {"lamps": LAMPS.replace("quoted", evidence).encode()}))
        return next(g["means"] for g in made["gaps"].to_pylist() if g["table"] == "lamps" and g["quantity"] == "bulb")

    assert [meaning(e) for e in ("published", "quoted", "practice", "recalled")] == ["not stated"] * 2 + ["not known"] * 2
