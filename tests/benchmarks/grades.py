"""How the figures of the tube types stand: by grade, by kind of figure, by document. Run: python -m tests.benchmarks.grades

Counts chosen figures (the cells of the wide tables) and all observations, those of tubes and rectifiers only: parts,
mains and bench are practice and standards.
"""

import sys
from pathlib import Path

from pipeline.catalogue import Catalogue

GRADES = ("published", "quoted", "practice", "recalled")
KINDS = {
    "what it is, its names and pins": ("function", "envelope", "base", "basing", "heating", "pins", "system",
                                       "nearness", "relation", "condition", "designation", "kind", "connection"),
    "heater": ("heater_v", "heater_a", "heater_tolerance_pct", "heater_a_tolerance_pct", "heater_series_v",
               "warm_up_s"),
    "limits": ("%max%", "%min%", "rating_system", "greatest_a", "least_a", "input_capacitor_meaning", "dc_a",
               "supply_ohm", "rectification_efficiency"),
    "drop of rectifiers": ("drop_v", "drop_at_a"),
    "characteristics and typical operation": ("%",),
}
"""Kind → patterns of quantities; the first kind that fits counts."""


def kind_of(quantity: str) -> str:
    """The kind of figure that a quantity is."""
    for kind, patterns in KINDS.items():
        if any(quantity == p or (p.startswith("%") and p.strip("%") in quantity) for p in patterns):
            return kind
    raise KeyError(quantity)


def counted(catalogue: Catalogue) -> dict[str, dict[str, int]]:
    """Kind → grade → chosen figures."""
    found = {kind: dict.fromkeys(GRADES, 0) for kind in KINDS}
    for quantity, grade, count in catalogue.query(
            "select quantity, evidence, count(*) from {figures} where chosen and (raw_file like 'tubes/%' or "
            "raw_file like 'rectifiers/%') and \"table\" not in ('common_types', 'designation_exceptions') group by all"):
        found[kind_of(quantity)][grade] += count
    return found


def main() -> None:
    """Print the table, the number of documents, and what the figures leave open."""
    catalogue = Catalogue(Path(sys.argv[1]) if len(sys.argv) > 1 else None)
    table = counted(catalogue)
    print(f"{'chosen figures of tubes':<40}" + "".join(f"{grade:>11}" for grade in GRADES))
    for kind, of in table.items():
        print(f"{kind:<40}" + "".join(f"{of[grade]:>11,}" for grade in GRADES))
    print(f"{'all':<40}" + "".join(f"{sum(of[grade] for of in table.values()):>11,}" for grade in GRADES))
    ((documents, figures),) = catalogue.query("select count(distinct source_id), count(*) from {figures} "
                                              "where evidence = 'published' and raw_file similar to '(tubes|rect).*'")
    ((types, published),) = catalogue.query(
        "select count(*), count(*) filter (type in (select type from {figures} where evidence = 'published' and "
        "\"table\" in ('sections', 'rectifiers') and chosen)) from {tubes}")
    print(f"{figures:,} published observations in {documents} documents; limits or ratings published of {published} "
          f"of {types:,} types")
    ((named, rated),) = catalogue.query("select count(*), count(rating_system) from {tubes}")
    print(f"rating system known of {rated:,} of {named:,} types")
    for rule, count in catalogue.query("select rule, count(*) from {questions} group by rule order by rule"):
        print(f"left open: {count} {rule}")


if __name__ == "__main__":
    main()
