"""A small unit laid out on the bench: worked out once, every figure of it measured, and any limit put where it is wanted."""

from pathlib import Path

from pipeline.catalogue import Figure, Ratings
from pipeline.checks.register import RULES
from pipeline.checks.rule import finding
from pipeline.point.point import operating_point
from pipeline.records import replace
from pipeline.unit import load


class Measured:
    """A catalogue whose figures are all as good as measured, so that what a test grades is the weakest."""

    def __init__(self, catalogue, **allowances):
        self.allowances = {name: f._replace(evidence="measured") for name, f in catalogue.allowances.items()}
        for name, value in allowances.items():
            self.allowances[name] = self.allowances[name]._replace(value=value)
        self.stock = [row | {"evidence": "measured"} for row in catalogue.stock]
        self._chosen = catalogue.chosen

    def chosen(self, table):
        return {subject: {name: f._replace(evidence="measured") for name, f in row.items()}
                for subject, row in self._chosen(table).items()}


class LaidOut:
    """The unit's point; `put` changes what the catalogue says of a part, `find` judges it anew."""

    def __init__(self, catalogue, folder: Path, toml: str, parts: str, given=(), dropped=()):
        folder.mkdir(exist_ok=True)
        (folder / "unit.toml").write_text(toml, encoding="utf-8")
        (folder / "parts.csv").write_text(f"ref,marking,role,at,measured,note\n{parts.strip()}\n", encoding="utf-8")
        unit = load(folder, catalogue)
        for part in unit.parts.values():
            if part.ratings is not None:
                unit = unit.with_part(replace(part, ratings=_measured(part.ratings)))
        self.unit = unit
        for figure in given:
            self.put(*figure)
        for quantity in dropped:
            for ref in unit.parts:
                self.drop(ref, quantity)
        self.point = operating_point(unit, Measured(catalogue))

    def ratings(self, ref):
        return self.unit.parts[ref].ratings

    def put(self, table, ref, quantity, value, evidence="measured"):
        """One figure of a part's type, in every row of the table, or in a row of its own."""
        own = self.ratings(ref)
        subjects = list(own.tables.get(table, ())) or [own.type]
        for subject in subjects:
            own.add(table, Figure(subject, quantity, value, None, evidence, "test"))

    def drop(self, ref, quantity):
        """The figure is not known, in whatever table it stands."""
        for rows in self.ratings(ref).tables.values() if self.ratings(ref) else ():
            for row in rows.values():
                row.pop(quantity, None)

    def allow(self, name, value, evidence="measured"):
        self.point.allowances[name] = self.point.allowances[name]._replace(value=value, evidence=evidence)

    def find(self, check, subject):
        """The findings of one check about one subject."""
        return [found for rule in RULES if rule.check == check for measure in rule.measure(self.point)
                if (found := finding(rule.check, measure)).subject == subject]

    def one(self, check, subject):
        found = self.find(check, subject)
        assert len(found) == 1, [f.why for f in found]
        return found[0]


def _measured(ratings: Ratings) -> Ratings:
    """A copy with every figure measured; the catalogue's own stay as they are."""
    copied = Ratings(ratings.type)
    for table, rows in ratings.tables.items():
        for row in rows.values():
            for figure in row.values():
                copied.add(table, figure._replace(evidence="measured"))
    return copied
