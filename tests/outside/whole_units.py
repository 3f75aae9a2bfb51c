"""A unit's netlist run in ngspice (https://ngspice.sourceforge.io): mean volts of every point, amperes of every tube."""

import re
import subprocess
import tempfile
from pathlib import Path
from typing import NamedTuple


class Run(NamedTuple):
    """Means over the last cycles: volts by the netlist's names, amperes by tube number for plate and screen."""

    volts: dict[str, float]
    plate_a: dict[int, float]
    screen_a: dict[int, float]


def simulated(netlist: str) -> Run:
    """The run of a netlist, with an ammeter put into every plate and screen."""
    metered, measures = [], []
    span = re.search(r"from=(\S+) to=(\S+)", netlist)
    for line in netlist.splitlines():
        if match := re.match(r"B(plate|screen)(\d+) (\S+) (.*)", line):
            kind, index, node, rest = match.groups()
            name = f"{kind[0]}m{index}"
            metered += [f"V{name} {node} {name}n 0", f"B{kind}{index} {name}n {rest}"]
            measures.append(f".meas tran amps_{name} avg i(v{name}) from={span[1]} to={span[2]}")
        else:
            metered += [*measures, line] if line == ".end" else [line]
    with tempfile.TemporaryDirectory() as folder:
        deck = Path(folder, "unit.cir")
        deck.write_text("\n".join(metered) + "\n", encoding="utf-8")
        done = subprocess.run(["ngspice", "-b", str(deck)], capture_output=True, text=True, timeout=300)
    volts = {name: float(v) for name, v in re.findall(r"mean_(\w+)\s*=\s*([-+0-9.eE]+)", done.stdout)}
    amps = {name: float(v) for name, v in re.findall(r"amps_(\w+)\s*=\s*([-+0-9.eE]+)", done.stdout)}
    return Run(volts, *({int(n[2:]): a for n, a in amps.items() if n[0] == kind} for kind in "ps"))
