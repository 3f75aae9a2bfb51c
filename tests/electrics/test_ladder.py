"""The largest first capacitor found from a few values, against the whole ladder solved."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose

from pipeline.electrics import ladder as ladders
from pipeline.electrics.ladder import largest_first_capacitor, largest_within
from pipeline.electrics.supply import Section, supply

LADDER = np.array([4.7, 8, 10, 16, 20, 22, 33, 40, 47, 50, 68, 100, 150, 220]) * 1e-6


def drawn(seed: int, count: int):
    rng = np.random.default_rng(seed)

    def log(low, high):
        return np.exp(rng.uniform(np.log(low), np.log(high), count))

    load = log(0.02, 0.2)
    sections = [Section(load_a=0.6 * load), Section(log(100, 3000), rng.uniform(3, 12, count), log(8e-6, 5e-5), 0.3 * load),
                Section(log(3e3, 3e4), 0.0, log(8e-6, 5e-5), 0.1 * load)]
    return (rng.uniform(150, 400, count), rng.choice([50.0, 60.0], count), log(20, 300), sections), log(1e-4, 2e-3), load


@pytest.mark.long
@pytest.mark.parametrize("circuit", ["half-wave", "full-wave", "doubler"])
def test_the_same_as_the_whole_ladder(circuit, monkeypatch):
    (volts, hertz, ohm, sections), perveance, _ = drawn(4, 60)
    side = [part._replace(**{name: np.asarray(value)[..., None] for name, value in part._asdict().items()
                             if name not in ("parent", "load_ohm")}) for part in sections]  # fmt: skip
    side[0] = side[0]._replace(capacitance_f=LADDER * 1.2)
    whole = supply(circuit, volts[:, None], hertz[:, None], ohm[:, None], side, perveance=perveance[:, None],
                   unsettled="nan").plate_peak_a  # fmt: skip
    rng, asked = np.random.default_rng(8), []
    rating = whole[np.arange(60), rng.integers(0, 14, 60)] * rng.uniform(0.97, 1.03, 60)
    monkeypatch.setattr(ladders, "supply", lambda *a, **b: asked.append(a[1].size) or supply(*a, **b))
    found = largest_first_capacitor(circuit, volts, hertz, ohm, sections, LADDER, rating, perveance=perveance,
                                    tolerance=1.2)  # fmt: skip
    within = np.maximum.accumulate(whole, axis=1) <= rating[:, None]
    index = within.sum(axis=1) - 1
    assert np.array_equal(found.place, index)
    assert {-1, 13} < set(index) and len(set(index)) > 5
    some = index >= 0
    assert_allclose(found.plate_peak_a[some], whole[some, index[some]], rtol=1e-6)
    assert_allclose(found.farads[some], LADDER[index[some]])
    assert np.isnan(found.farads[~some]).all()
    assert sum(asked) < 0.5 * 60 * LADDER.size


def test_what_is_known_is_not_solved_again(monkeypatch):
    given, perveance, load = drawn(5, 20)
    first = largest_first_capacitor("full-wave", *given, LADDER, 5 * load, perveance=perveance)
    known = np.full((20, LADDER.size), np.nan)
    row, some = np.arange(20), first.place >= 0
    known[row[some], first.place[some]] = first.plate_peak_a[some]
    last = first.place + 1 < LADDER.size
    known[row[last], first.place[last] + 1] = first.next_peak_a[last]
    monkeypatch.setattr(ladders, "supply", lambda *_, **__: pytest.fail("nothing was left to be solved"))
    again = largest_first_capacitor("full-wave", *given, LADDER, 5 * load, perveance=perveance, known_a=known)
    assert np.array_equal(again.place, first.place)


def test_any_rising_row_is_searched_right():
    rng = np.random.default_rng(6)
    table = np.sort(rng.uniform(0.5, 2.0, (400, 14)), axis=1)
    table[::7, 9:] = np.nan  # no steady state from there on
    rating = rng.uniform(0.4, 2.1, 400)
    found = largest_within(lambda rows, at: table[rows, at], np.full(table.shape, np.nan), rating)
    assert np.array_equal(found, (table <= rating[:, None]).sum(axis=1) - 1)


def test_faults_name_the_argument():
    given, perveance, _ = drawn(7, 1)
    with pytest.raises(ValueError, match="ladder_f"):
        largest_first_capacitor("full-wave", *given, [2e-6, 1e-6], 0.4, perveance=perveance)
    with pytest.raises(ValueError, match="rating_a"):
        largest_first_capacitor("full-wave", *given, LADDER, 0.0, perveance=perveance)
