"""The readings that enter the operating point: the parts list's own, and the latest full ones of `readings.csv`."""

from collections.abc import Sequence

from pipeline.point.wiring import Wired
from pipeline.records import Record, field, replace
from pipeline.unit import Place, Unit

ELECTRODES = ("plate_v", "screen_v", "cathode_v", "grid_v")


class Readings(Record):
    """Volts as a meter read them, brought to today's mains; what was not read is not there."""

    nodes: dict[str, float] = field(default_factory=dict)
    tubes: dict[tuple[str, str | None], dict[str, float]] = field(default_factory=dict)
    across: dict[str, float] = field(default_factory=dict)

    def of(self, at: tuple[str, str | None]) -> dict[str, float]:
        """Electrode volts of one section of a tube."""
        return self.tubes.get(at, {})

    @property
    def any(self) -> bool:
        return bool(self.nodes or self.across or any(self.tubes.values()))


def readings_of(unit: Unit, places: list[Place]) -> Readings:
    """Everything that was read: of nodes, of these places, and across parts; the latest of several days counts.

    The electrodes of a tube are those of its latest day in the record: two days' volts make no third.
    """
    nodes: dict[str, float] = {}
    across = {p.ref: p.measured["volts"] for p in unit.parts.values() if "volts" in p.measured}
    tubes = {(place.ref, place.section): _electrodes(unit.parts[place.ref].measured_of(place.section))
             for place in places}
    days: dict[tuple[str, str | None], str] = {}
    for reading in sorted(unit.readings, key=lambda r: r.date or ""):
        if reading.condition != "full":
            continue
        scale = unit.mains_v / reading.mains if reading.mains and unit.mains_v else 1.0
        value = reading.value * scale
        if reading.at in unit.nodes and reading.reading == "dc_v":
            nodes[reading.at] = value
        elif reading.reading == "volts" and reading.at in unit.parts:
            across[reading.at] = value
        elif reading.reading in ELECTRODES:
            for at, found in tubes.items():
                if at[0] == reading.at and reading.section in (None, at[1]):
                    if (reading.date or "") > days.get(at, reading.date or ""):
                        found.clear()
                    days[at] = reading.date or ""
                    found[reading.reading] = value
    return Readings(nodes, tubes, across)


def _electrodes(measured: dict[str, float]) -> dict[str, float]:
    return {name: measured[name] for name in ELECTRODES if name in measured}


def joined(readings: Readings, wired: Sequence[Wired]) -> Readings:
    """The readings, each taken for every electrode that stands at the same end of the same part.

    A tube that was read itself keeps its own.
    """
    tubes = {at: dict(read) for at, read in readings.tubes.items()}
    for name in ("plate", "screen", "cathode"):
        ends: dict[object, float] = {}
        leads = [(w.at, lead) for w in wired if (lead := getattr(w, name)) is not None and lead.through is not None]
        for at, lead in leads:
            if (volts := readings.of(at).get(f"{name}_v")) is not None:
                ends.setdefault(lead, volts)
        for at, lead in leads:
            if lead in ends:
                tubes.setdefault(at, {}).setdefault(f"{name}_v", ends[lead])
    return replace(readings, tubes=tubes)
