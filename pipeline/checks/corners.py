"""What a rectifier's maker publishes about its use: rating chart, supply resistance, and operating conditions."""

from collections.abc import Iterator

import numpy as np

from pipeline.catalogue import Figure, Ratings
from pipeline.checks.findings import figures
from pipeline.point.supply import DESIGN, SupplyState


def rating(state: SupplyState, quantity: str) -> Figure | None:
    """A rating of the supply's rectifier, from the rectifiers or the diodes."""
    part = state.rectifier
    return part.rating("rectifiers", quantity) or part.rating("diodes", quantity)


def rating_corners(state: SupplyState) -> list[tuple[float, float, tuple[Figure, ...]]]:
    """(AC volts, DC amps, figures) of the rating chart for this filter input; the single rating where no chart is."""
    found: list[tuple[float, float, tuple[Figure, ...]]] = [
        (volts, row["dc_a"].value, (row["dc_a"],)) for volts, row in _chart(state) if "dc_a" in row]
    amps, volts = rating(state, "dc_output_max_a"), rating(state, "ac_plate_max_v")
    if not found and amps and volts and state.supply.input == "capacitor":
        return [(volts.value, amps.value, (amps, volts))]
    return found


def chart_a(state: SupplyState, volts: float) -> float:
    """Rated output at AC volts on each plate, between published corners; the end ones hold beyond them."""
    chart: dict[float, float] = {}
    for at, amps, _ in rating_corners(state):
        chart[at] = max(amps, chart.get(at, 0.0))
    known = sorted(chart.items())
    return float(np.interp(volts, [v for v, _ in known], [a for _, a in known]))


def plates_share(state: SupplyState) -> float:
    """Part of a two-plate tube's rated output that a doubler may draw: there each plate carries the whole load."""
    plates = rating(state, "connection")
    doubles = state.circuit in ("doubler", "half-wave doubler")
    return 0.5 if doubles and plates is not None and plates.value in ("two half-wave", "full-wave") else 1.0


def _chart(state: SupplyState) -> list[tuple[float, dict[str, Figure]]]:
    ratings = state.rectifier.ratings
    found = ratings.once("rating chart", lambda: _charts(ratings)) if ratings else []
    return [(volts, row) for kind, volts, row in found if kind == state.supply.input]


def _charts(ratings: Ratings) -> list[tuple[str, float, dict[str, Figure]]]:
    """(input, AC volts, figures) of every published corner."""
    rows = ratings.rows("rectifier_ratings").items()
    names = ((subject.partition("#")[0].rsplit("/", 2), row) for subject, row in rows)
    return [(kind, float(volts), row) for (_, kind, volts), row in names]


def supply_ohm_asked(state: SupplyState) -> tuple[float, tuple[Figure, ...]] | None:
    """Smallest supply impedance the maker asks at this winding's volts, between published corners; and its figures.

    None beyond the corners: nothing is extrapolated.
    """
    corners = [(volts, row["supply_ohm"]) for volts, row in _chart(state) if "supply_ohm" in row]
    single, top = rating(state, "supply_ohm_min"), rating(state, "ac_plate_max_v")
    if single and top and state.supply.input == "capacitor":
        corners.append((top.value, single))
    corners.sort(key=lambda c: c[0])
    volts = state.winding_v
    if not corners or not corners[0][0] * 0.95 <= volts <= corners[-1][0] * 1.05:
        return None
    ohms = float(np.interp(volts, [c[0] for c in corners], [c[1].value for c in corners]))
    return ohms, figures(*(c[1] for c in corners))


def makers_corner(state: SupplyState) -> tuple[str, tuple[Figure, ...]] | None:
    """(document, figures) of published operating conditions inside which the supply stands at design mains, or None.

    AC volts, DC amps and first capacitor are at most the published ones, the supply's resistance at least. None too
    where today's line is higher than makers allow for.
    """
    if state.solved is None or state.source_ohm is None or not state.reservoir_uf or state.supply.input != "capacitor" \
            or state.mains.today > 1 + state.allowances["line variation"].value / 100:
        return None
    load, near = state.load_a(DESIGN), 1 + state.allowances["maker's corner"].value / 100
    for volts, row, share in _conditions(state):
        given = {name: row[name] for name in ("dc_a", "supply_ohm", "capacitor_uf") if name in row}
        if len(given) < 3:
            continue
        if (state.winding_v <= volts * near and load <= given["dc_a"].value * share * near
                and state.source_ohm * near >= given["supply_ohm"].value
                and state.reservoir_uf <= given["capacitor_uf"].value * near):
            locator = given["dc_a"].locator
            return f"{given['dc_a'].source_id}{', ' + locator if locator else ''}", tuple(given.values())
    return None


def _conditions(state: SupplyState) -> Iterator[tuple[float, dict[str, Figure], float]]:
    """Every published operation of this circuit, and the share of its amps that counts here.

    The corners of the rating chart are of both plates side by side; typical operation is of this very circuit.
    """
    yield from ((volts, row, plates_share(state)) for volts, row in _chart(state))
    ratings, circuit = state.rectifier.ratings, state.circuit
    if ratings:
        yield from ratings.once(("operation", circuit), lambda: list(_operated(ratings, circuit)))


def _operated(ratings: Ratings, circuit: str) -> Iterator[tuple[float, dict[str, Figure], float]]:
    """Typical operation in a circuit, its load as `dc_a`."""
    words = ratings.type.count("/") + 1
    for subject, row in ratings.rows("rectifier_operation").items():
        key = subject.partition("#")[0].split("/")
        numbers = [float(x) for x in key[words + 1:] if _is_number(x)]
        amps = row.get("dc_v")
        if key[words] == circuit and len(numbers) == 2 and amps is not None:
            yield numbers[0], row | {"dc_a": amps._replace(quantity="dc_a", value=numbers[1], unit="A")}, 1.0


def _is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True
