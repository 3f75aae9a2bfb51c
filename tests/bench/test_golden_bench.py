"""What the small invented units of `tests/golden` come to in this storey is what was last reviewed."""

import pytest
from golden import told
from golden.outcomes import golden, moved, outcome, units


@pytest.mark.parametrize("name", units())
def test_outcomes_are_those_last_reviewed(catalogue, tmp_path, name):
    now = outcome("bench", name, tmp_path / "unit", catalogue)
    assert moved(golden("bench")[name], now) == [], "write anew with `python tests/golden/test_golden.py` if it is meant"


@pytest.mark.parametrize("name", told.SCRIPTS)
def test_what_is_told_line_by_line_comes_to_what_was_last_reviewed(catalogue, tmp_path, name):
    now = told.run(name, tmp_path / "unit", catalogue)
    assert moved(told.golden()[name], now) == [], "write anew with `python tests/golden/test_golden.py` if it is meant"
