"""A build's memory as the raw tables grow: `tests/benchmarks/growth.py` with few copies, each build a process of its own."""

import pytest
from benchmarks.growth import built, grow

PER_COPY_MB = 25.0
"""What one more copy of all types may take, on top of the libraries; it was 85 with a dictionary for each row."""


@pytest.mark.long
def test_memory_grows_by_no_more_than_the_rows_themselves(tmp_path):
    used = {}
    for copies in (1, 5):
        raw = tmp_path / f"raw-{copies}"
        grow(raw, copies)
        _, used[copies] = built(raw, tmp_path / f"out-{copies}")
    assert used[5] - used[1] < 4 * PER_COPY_MB, used
