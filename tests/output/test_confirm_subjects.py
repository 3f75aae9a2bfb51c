"""Whatever the report asks to confirm can be confirmed: every recalled subject is one that `confirm` lists."""

import pytest
from support import ROOT

from pipeline.checks.check import check
from pipeline.unit import load


@pytest.mark.parametrize("name", sorted(p.name for p in (ROOT / "data_raw/units").iterdir()))
def test_every_recalled_figure_is_one_that_confirm_knows(name, catalogue):
    checked = check(load(ROOT / "data_raw/units" / name, catalogue), catalogue)
    for figure in checked.recalled:
        subject = figure.subject.partition("/")[0]
        assert catalogue.recalled(subject), f"{figure.subject} {figure.quantity}"
