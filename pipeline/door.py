"""The door for notebooks and programs: a unit by its path, and what is known of it as tables and drawings.

Tables come as pandas (or Arrow, with `arrow`), which are loaded when a table is first asked for.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline import catalogue as built
from pipeline.bench.replacements import replacements
from pipeline.bench.swap import Swap
from pipeline.bench.swap import swap as tried
from pipeline.checks.check import Checked
from pipeline.checks.check import check as run_checks
from pipeline.output.safe import html
from pipeline.records import replace
from pipeline.unit import UnitError, identify, load

if TYPE_CHECKING:
    import pandas
    import pyarrow

__all__ = ["Catalogue", "CheckedUnit", "Drawing", "UnitError", "check"]
TABLES = ("findings", "operating", "replacements", "not_judged", "nodes")
"""What is known of a unit, each as a table."""
_TONES = {"stop": "#b3261e", "unknown": "#6b4fa0", "caution": "#8a5a00", "pass": "#2c6e49"}


class Catalogue(built.Catalogue):
    """The built catalogue, `folder` or the usual one; raises `pipeline.catalogue.CatalogueError` where there is none.

    >>> Catalogue().rating("12AX7").loc["tubes heater_v", "value"]
    12.6
    """

    def rating(self, name: str) -> pandas.DataFrame:
        """Every chosen figure of a type, by any name of it: value, unit, evidence, source and locator.

        Raises KeyError where the catalogue does not know the name, or knows it for two tubes.
        """
        import pandas

        from pipeline.notation.tube import read_tube

        read = read_tube(name, self.names)
        type_ = read.type if read else None
        known = self.ratings([type_]) if type_ else {}
        if type_ is None or type_ not in known:
            raise KeyError(f"{name}: {(read.why if read else None) or 'the catalogue has no ratings for it'}")
        rows = [(" ".join(w for w in (table, subject.removeprefix(type_).strip("/"), figure.quantity) if w),
                 figure.value, figure.unit, figure.evidence, figure.source_id, figure.locator)
                for table, subjects in known[type_].tables.items() for subject, row in subjects.items()
                for figure in row.values()]
        frame = pandas.DataFrame(rows, columns=["figure", "value", "unit", "evidence", "source_id", "locator"])
        return frame.set_index("figure")

    def table(self, name: str) -> pandas.DataFrame:
        """A built table; raises KeyError with the tables there are."""
        import pandas

        if name not in self.tables:
            raise KeyError(f"{name}: no such table: {', '.join(self.tables)}")
        return pandas.DataFrame(list(self.rows(name)))


class Drawing:
    """A drawing as SVG text, which a notebook shows by itself."""

    def __init__(self, svg: str):
        self.svg = svg

    def _repr_svg_(self) -> str:
        return self.svg

    def __str__(self) -> str:
        return self.svg


class CheckedUnit:
    """A unit read, worked out and judged: tables, what would change, drawings; its rich display lists the findings.

    `findings`, `operating`, `replacements`, `not_judged` and `nodes` are pandas DataFrames with the columns of
    `tubewright check --format json`.
    """

    def __init__(self, checked: Checked, catalogue: built.Catalogue):
        self.checked, self.catalogue = checked, catalogue

    @property
    def name(self) -> str:
        return self.checked.unit.name

    @property
    def status(self) -> int:
        """0 nothing to stop for, 1 something must stop, 3 something is unknown and nothing must stop."""
        return self.checked.status

    def rows(self, table: str) -> list[dict[str, Any]]:
        """One of `TABLES` as plain rows; raises KeyError for another."""
        from pipeline.output.report import as_dict

        if table not in TABLES:
            raise KeyError(f"{table}: no such table: {', '.join(TABLES)}")
        found: Sequence[Mapping[str, Any]] = as_dict(self.checked, replacements(self.checked, self.catalogue))[table]
        return [dict(row) for row in found]

    def frame(self, table: str) -> pandas.DataFrame:
        """One of `TABLES` as a DataFrame."""
        import pandas

        return pandas.DataFrame(self.rows(table))

    def arrow(self, table: str) -> pyarrow.Table:
        """One of `TABLES` as an Arrow table; lists of figures become text."""
        import pyarrow

        plain = [{k: str(v) if isinstance(v, list | dict) else v for k, v in row.items()} for row in self.rows(table)]
        return pyarrow.Table.from_pylist(plain)

    def __getattr__(self, table: str) -> pandas.DataFrame:
        if table in TABLES:
            return self.frame(table)
        raise AttributeError(table)

    def what_if(self, **markings: str) -> CheckedUnit:
        """The unit with other parts in some places, by ref: ``what_if(C1="47 µF 450 V")``; raises KeyError for no ref.

        >>> check("data_raw/units/record-player").what_if(C2="4 µF 450 VAC film").status
        1
        """
        unit = self.checked.unit
        for ref, marking in markings.items():
            if ref not in unit.parts:
                raise KeyError(f"{ref}: no such part: {', '.join(unit.parts)}")
            old = unit.parts[ref]
            unit = unit.with_part(replace(old, marking=marking, measured={}, measured_sections={}))
        return CheckedUnit(run_checks(identify(unit, self.catalogue), self.catalogue), self.catalogue)

    def swap(self, ref: str, type_: str) -> Swap:
        """Another tube in a place, tried on paper: verdict, reasons, changes; raises KeyError where no tube stands."""
        part = self.checked.unit.parts.get(ref)
        if part is None or part.kind != "tube":
            raise KeyError(f"{ref}: no tube of that ref")
        return tried(self.checked, ref, type_, self.catalogue)

    def base(self, ref: str) -> Drawing:
        """The base of a tube from below; raises KeyError where there is no such tube or no pin map of its type."""
        from pipeline.output.svg.base import base_drawing

        part = self.checked.unit.parts.get(ref)
        if part is None or part.ratings is None or part.kind != "tube":
            raise KeyError(f"{ref}: no tube of that ref with a known type")
        base = part.rating("tubes", "base")
        pins = list(self.catalogue.rows("pins", "type = ?", [part.ratings.type]))
        drawn = base_drawing(part.called, str(base.value) if base else None, pins, key=ref)
        if drawn is None:
            raise KeyError(f"{ref}: no pin map of {part.called} is known")
        return Drawing(drawn)

    def supply(self, id_: str | None = None) -> Drawing:
        """Two cycles of a supply's nodes and plate currents; raises KeyError where it is not worked out."""
        from pipeline.output.sheet.drawn import waves_of
        from pipeline.output.svg.supply import waveform

        point = self.checked.point
        state = point.main if id_ is None else point.supply(id_)
        found = waves_of(state) if state is not None and state.solved is not None else None
        if state is None or found is None:
            raise KeyError(f"{id_ or 'B+'}: no such supply is worked out")
        waves, pulses = found
        nodes = {n.id: waves.node_v[0, i] for i, n in enumerate(state.nodes)}
        return Drawing(waveform(waves.time_s[0], nodes, pulses) or "")

    def __repr__(self) -> str:
        from pipeline.output.text import tally

        return f"<{self.name}: {tally(self.checked.findings)}>"

    def _repr_html_(self) -> str:
        rows = "".join(
            f'<tr><td style="color:{_TONES[f.verdict]}"><b>{f.verdict}</b></td><td>{html(f.subject)}</td>'
            f'<td style="text-align:left">{html(f.why)} {html(f.do)}</td><td>{f.evidence}</td></tr>'
            for f in self.checked.findings)
        head = "<tr><th>verdict</th><th>part</th><th>why, and what to do</th><th>evidence</th></tr>"
        return f"<table><caption>{html(self.name)}</caption><thead>{head}</thead><tbody>{rows}</tbody></table>"


def check(folder: str | Path, catalogue: built.Catalogue | str | Path | None = None) -> CheckedUnit:
    """Check the unit in `folder`; raises UnitError where its files cannot be used, CatalogueError without a catalogue.

    >>> radio = check("data_raw/units/table-radio")
    >>> radio.status, list(radio.findings.columns[:3])
    (1, ['check', 'subject', 'verdict'])
    """
    known = catalogue if isinstance(catalogue, built.Catalogue) else Catalogue(catalogue)
    return CheckedUnit(run_checks(load(Path(folder), known), known), known)
