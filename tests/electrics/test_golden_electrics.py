"""The sums over a spread of cases are, to the seventh figure, what was last reviewed (`tests/golden/sums.py`)."""

import numpy as np
import pytest
from golden.sums import CLOSE, cases, figures, golden


@pytest.mark.parametrize("name", cases())
def test_figures_are_those_last_reviewed(name):
    now, before = figures(cases()[name]()), golden()[name]
    assert now and np.array(now) == pytest.approx(np.array(before), rel=CLOSE, abs=1e-9, nan_ok=True), (
        "write anew with `python tests/golden/test_golden.py` if it is meant")
