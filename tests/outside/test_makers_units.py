"""Units made of operating conditions that makers publish: what a maker prints as typical is nowhere a stop.

Outside source: the makers' documents behind the rows of evidence `published` in `operating_points`,
`rectifier_operation` and `rectifier_ratings`; each row names document and page. Several of these conditions touch
their own limit, and a few pass it by the law of the stage.
"""

import csv
import json

import pytest
from support import ROOT

from pipeline.checks.check import check
from pipeline.unit import load

MAINS = 'name = "Made"\nmains_v = 230\nmains_high_v = 253\nmains_hz = 50\ndesign_mains_v = 230\n'


def rows(table):
    """Rows of a raw table read in the document they name; numbers as such, empty cells None."""
    for file in sorted((ROOT / "data_raw" / table).glob("*.csv")):
        with file.open(encoding="utf-8") as opened:
            for row in csv.DictReader(opened):
                if row["evidence"] == "published":
                    yield {k: v if k == "type" else number(v) for k, v in row.items()}


def number(text):
    try:
        return float(text)
    except ValueError:
        return text or None


def stage_unit(row, bias):
    """(unit.toml, parts.csv) of a published stage on stiff supplies, biased by a cathode resistor or by fixed volts."""
    count, total = int(row["tube_count"] or 1), row["plate_a"] + (row["screen_a"] or 0.0)
    shared = count == 2 and "per valve" not in (row["note"] or "")
    volts = row["bias_v"] if row["bias_v"] is not None else -row["cathode_ohm"] * total / (1 if shared else count)
    lift = -volts if bias == "cathode" else 0.0
    plate = row["plate_v"] + lift if row["plate_v"] else row["supply_v"]
    refs = tubes_of(row, count)
    stage = [f"[[stage]]\ntubes = {json.dumps(refs)}", 'plate = "B1"', 'plate_through = "T1"', 'service = "push-pull"']
    parts = [f"{r},{row['type']},,,," for r in dict.fromkeys(r[:2] for r in refs)] + ["T1,output transformer 2 ohm,,,,"]
    toml, (screen, fed) = MAINS + supply("B+", "B1", plate), screens(row, plate, lift)
    stage.append(screen)
    if fed:
        toml += supply("S+", "B2", fed)
    if row["screen_ohm"] and fed and not row["screen_v"]:
        stage.append('screen_through = "R9"')
        parts.append(f"R9,{row['screen_ohm']:g} ohm 5W,screen,,,")
    if bias == "fixed":
        stage.append(f"grid = {volts:g}")
    else:
        ohm = row["cathode_ohm"] or -volts / (total / (1 if shared else count))
        names = ["R1"] if shared or count == 1 else ["R1", "R2"]
        stage.append(f"cathode_through = {json.dumps(names)}")
        parts += [f"{r},{ohm:.4g} ohm 50W,cathode,,{ohm:.6g} ohm," for r in names]
    return toml + "\n".join(stage) + "\n", "\n".join(parts)


def tubes_of(row, count):
    if row["section"] == "each":
        return ["V1A", "V1B"][:count]
    return [f"V{i + 1}" + ("" if row["section"] == "whole" else f" {row['section']}") for i in range(count)]


def screens(row, plate, lift):
    """The stage's line for its screens, and the volts of their own supply."""
    if row["connected"] == "triode":
        return 'screen = "plate"', None
    if row["connected"] == "ultralinear":
        return f'screen = "plate {row["screen_tap_pct"] or 40:g} %"', None
    volts = row["screen_supply_v"] or (row["screen_v"] + lift if row["screen_v"] else None)
    if volts is None and row["screen_ohm"]:
        volts = plate
    return ('screen = "B2"', volts) if volts else ("", None)


def supply(name, node, volts):
    return f'[[supply]]\nid = "{name}"\nsource = "battery"\nvolts = {volts:.6g}\n[[supply.node]]\nid = "{node}"\n'


def made_of():
    """Every published stage, with the bias its row says; a single tube of given bias volts with both kinds."""
    for row in rows("tubes/operating_points"):
        stage = str(row["service"]).startswith("class") and row["plate_a"] and (row["plate_v"] or row["supply_v"])
        if not stage or not (row["bias_v"] or row["cathode_ohm"]):
            continue
        where = " ".join(str(row[k] or "") for k in ("type", "section", "service", "plate_v", "supply_v", "connected",
                                                     "bias_v", "cathode_ohm", "heater_arrangement", "source_id"))
        if row["cathode_ohm"] is not None or (row["tube_count"] != 2 and row["bias_v"]):
            yield pytest.param(row, "cathode", id=f"{where} cathode")
        if row["cathode_ohm"] is None:
            yield pytest.param(row, "fixed", id=f"{where} fixed")


@pytest.mark.parametrize(("row", "bias"), list(made_of()))
def test_no_stop_in_a_published_stage(make_unit, catalogue, row, bias):
    toml, parts = stage_unit(row, bias)
    checked = check(load(make_unit(toml, parts), catalogue), catalogue)
    watts = next(q for q in checked.point.quantities if q.quantity == "plate_w")
    assert watts.value is not None, watts.missing
    stops = [f"{f.check} {f.subject}: {f.why}" for f in checked.findings if f.verdict == "stop"]
    assert stops == []


def operations():
    """Every published operation of a rectifier into a capacitor that says ohms and microfarads; corners of ratings too."""
    seen = set()
    for row in (*rows("rectifiers/rectifier_operation"), *rows("rectifiers/rectifier_ratings")):
        given = (row["type"], row.get("circuit") or "full-wave", row["ac_v"], row["dc_a"], row["supply_ohm"],
                 row["capacitor_uf"])
        if row["input"] == "capacitor" and None not in given and given not in seen:
            seen.add(given)
            yield pytest.param((*given, row.get("frequency_hz"), ""), id=" ".join(map(str, given)))


def rectifier_unit(row):
    type_, circuit, ac_v, dc_a, ohm, uf, hertz, _ = row
    return (f'name = "Made"\nmains_v = 230\nmains_high_v = 253\nmains_hz = {hertz or 50:g}\ndesign_mains_v = 230\n'
            f'[supply]\nrectifier = "V1"\ncircuit = "{circuit}"\nsecondary_v = {ac_v:g}\nsecondary_ohm = {ohm:g}\n'
            f'[[supply.node]]\nid = "B1"\ncapacitors = ["C1"]\nload_a = {dc_a:g}\n',
            f"V1,{type_},rectifier,,,\nC1,{uf:g} µF 800 V,reservoir,,,")


@pytest.mark.parametrize("row", list(operations()))
def test_no_stop_in_a_published_rectifier(make_unit, catalogue, row):
    found = check(load(make_unit(*rectifier_unit(row)), catalogue), catalogue).findings
    assert [f"{f.check}: {f.why}" for f in found if f.verdict == "stop"] == []


def test_ez80_passes_on_its_makers_word(make_unit, catalogue):
    """EZ80 (Mazda, August 1963, page 1): 250 V, 125 ohm, 50 µF, 90 mA give 265 V."""
    checked = check(load(make_unit(*rectifier_unit(("EZ80", "full-wave", 250, 0.09, 125, 50, 50, ""))), catalogue),
                    catalogue)
    said = {f.check: f for f in checked.findings if f.check in (
        "rectifier-peak", "rectifier-output", "largest-input-capacitor")}
    assert {f.verdict for f in said.values()} == {"pass"} and len(said) == 3
    assert all("mazda-ez80-1963" in f.why for f in said.values())
    assert checked.state.loaded_v("B1") == pytest.approx(265, rel=0.05)


@pytest.mark.parametrize("type_", ["35Z5GT", "UY85"])
def test_an_unloaded_crest_alone_stops_no_rectifier(make_unit, catalogue, type_):
    """Where the drop or the load is not known, only a crest is: heater-cathode volts are then no stop."""
    volts = 117 if type_ == "35Z5GT" else 220
    toml = (f'name = "Made"\nmains_v = {volts}\nmains_hz = 50\ndesign_mains_v = {volts}\n'
            '[[string]]\nid = "S1"\namps = ' + ("0.15" if volts == 117 else "0.1") + '\norder = ["V1"]\ndropper = "R1"\n'
            f'[supply]\nrectifier = "V1"\ncircuit = "half-wave"\nsecondary_v = {volts}\nsecondary_ohm = 50\n'
            '[[supply.node]]\nid = "B1"\ncapacitors = ["C1"]\n')
    ohms = (117 - 35) / 0.15 if volts == 117 else (220 - 38) / 0.1
    parts = f"V1,{type_},rectifier,S1,,\nC1,40 µF 400 V,reservoir,,,\nR1,{ohms:.0f} ohm 50W,dropper,,,"
    found = check(load(make_unit(toml, parts), catalogue), catalogue).findings
    said = [f for f in found if f.check == "heater-cathode"]
    assert all(f.verdict != "stop" for f in said), said
