"""What a person says of the unit itself: its mains, windings, strings, supplies, nodes and stages, a line each."""

from pipeline.bench.told.apply import Applied, apply, dropped
from pipeline.bench.told.fact import Fact, Known
from pipeline.bench.told.lines import read_fact

__all__ = ["Applied", "Fact", "Known", "apply", "dropped", "read_fact"]
