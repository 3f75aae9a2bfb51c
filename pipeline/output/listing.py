"""What `list` asks and says: a line typed, what it was taken for, what is missing, and at the end what is needed."""

import sys
from collections.abc import Iterable

from pipeline.amounts import amount
from pipeline.bench.asking import Question
from pipeline.bench.still_needed import Needed, still_needed
from pipeline.bench.taking_stock import COMMANDS, Stock, Taken
from pipeline.catalogue import Catalogue
from pipeline.output.page import paint, table, wrapped
from pipeline.output.reading import meaning
from pipeline.output.telling import described, is_told
from pipeline.textfile import printable
from pipeline.unit import Part, UnitError

PROMPT = "part> "
MOST_OFFERED = 12
MOST_LINES = 14
"""Lines of what is still needed; the rest is counted."""
HELP = """One part a line, as you would call it out: ref, marking, what it does, where it is.
  V1 6V6 at H1                     a tube and the winding or string that heats it
  C1 16 by 450 reservoir B1        a capacitor, its role and node
  R7 270 1W cathode V1             a resistor, its role and tube
  R1 220k plate load V1A B2        a plate load, its tube and the node that feeds it: V1A has its stage
  R3 1k 2W B1-B2                   what stands between two nodes: B2 is there
  T2 output transformer V3 B1
  V1 6V6GT                         the same ref again corrects it; what you leave out stays
  V1 reads plate 248 V             a reading; `note ...` at the end keeps your own words
What no part says, in the same way:
  mains 121 V 60 Hz, nameplate 117 V          winding H1 6.3 V 3 A
  supply full-wave 5Y3 350-0-350 V 48 ohm     supply bias half-wave D1 50 V negative
  B1 to B2 through L1, 12 mA                  string S1 150 mA, order V5 V4 V1, dropper R20
  V3 V4 plate B1 through T2, screen B2, cathode R7, grid C-, push-pull
  undo   drop C3   drop stage V1   list   need   help   done"""


def take_stock(catalogue: Catalogue, folder, lines: Iterable[str] | None) -> tuple[int, str | None]:
    """Run until `done`, or the end of `lines` (a person is asked where they are None); (exit status, what is wrong)."""
    try:
        stock = Stock(folder, catalogue)
    except UnitError as error:
        return 2, str(error)
    talk = _Talk(stock, asks=lines is None)
    try:
        talk.run(_typed() if lines is None else lines)
    except OSError as error:
        return 2, printable(f"{error.filename or folder}: {error.strerror or error}")
    except UnitError as error:
        return 2, str(error)
    except KeyboardInterrupt:
        _say(f"\nbroken off: {len(stock.now.parts)} lines are in {folder / 'parts.csv'}")
        raise
    talk.end()
    return (2 if talk.refused else 0), None


def _typed() -> Iterable[str]:
    """The lines a person types; ends with the end of the input."""
    while True:
        print(PROMPT, end="", file=sys.stderr, flush=True)
        line = sys.stdin.readline()
        if not line:
            print(file=sys.stderr)
            return
        yield line


def _say(text: str) -> None:
    print(text, file=sys.stderr, flush=True)


class _Talk:
    """One sitting: what was refused, and whether there is a person to ask."""

    def __init__(self, stock: Stock, *, asks: bool):
        self.stock, self.asks = stock, asks
        self.refused = 0

    def run(self, lines: Iterable[str]) -> None:
        """Take every line; one that cannot be taken is told, by its number where a file gave it."""
        if self.asks:
            _say(f"{len(self.stock.now.parts)} parts in {self.stock.folder / 'parts.csv'}. One part a line, such as "
                 "V1 6V6 at H1, or winding H1 6.3 V 3 A; `help` says more, `done` ends.")
        for number, line in enumerate(lines, 1):
            words = line.strip()
            if not words or words.startswith("# "):
                continue
            if words.lower() in ("done", "end", "quit", "exit", "q"):
                return
            try:
                self._line(words)
            except ValueError as error:
                self.refused += not self.asks
                _say(wrapped(f"{'' if self.asks else f'line {number}: '}{error}", 2))

    def _line(self, words: str) -> None:
        verb, _, rest = words.partition(" ")
        verb = verb.lower()
        if verb == "undo" and not rest:
            print(f"{self.stock.undo()} is as it was before", flush=True)
        elif verb in ("drop", "delete", "remove") and rest:
            print(f"{self.stock.drop(rest.strip())} is taken out", flush=True)
        elif verb in ("list", "show") and not rest:
            print(_all(self.stock), flush=True)
        elif verb in ("need", "needed") and not rest:
            self.end()
        elif verb in ("help", "?", "h"):
            _say(HELP)
        elif not rest and verb not in COMMANDS and self.stock.now.names.find(words, "part"):
            print(_taken(Taken(self.stock.now.parts[self.stock.now.names.find(words, "part") or ""], words)))
        else:
            self._part(words)

    def _part(self, words: str) -> None:
        taken = self.stock.take(words)
        self._read_back(taken)
        if self.asks and (taken.part is None or taken.part.kind is not None):
            self._ask(taken)

    def _read_back(self, taken: Taken) -> None:
        """A line read back: the part, or the table of unit.toml, and what followed from it."""
        known = self.stock.known()
        if taken.fact is None:
            print(_taken(taken), flush=True)
        else:
            print(wrapped(described(taken.fact.table, taken.fact.name, known), 4), flush=True)
            for note in taken.told:
                print(wrapped(note, 4, "    "), flush=True)
        for applied in taken.also:
            print(wrapped(f"so {described(applied.table, applied.name, known)}", 4, "  "), flush=True)

    def _ask(self, taken: Taken) -> None:
        """Ask for what is missing until nothing is; an empty line says that it is not known."""
        asked: set[str] = set()
        while question := next((q for q in self.stock.questions(taken) if q.column not in asked), None):
            asked.add(question.column)
            answer = self._answer(question)
            if answer is not None:
                self._read_back(answer)

    def _answer(self, question: Question) -> Taken | None:
        """The part with the answer; None for an empty line or `-`."""
        offered = ", ".join(question.known[:MOST_OFFERED]) + (" …" if len(question.known) > MOST_OFFERED else "")
        offered = f" ({offered})" if offered else ""
        while True:
            _say(wrapped(f"{question.words}?{offered}"
                         + (f" Empty for {question.default}, - where not known" if question.default else
                            " Empty where not known"), 4, "  "))
            print("  > ", end="", file=sys.stderr, flush=True)
            line = sys.stdin.readline()
            text = line.strip() or question.default
            if not line or text in ("", "-"):
                return None
            try:
                return self.stock.answer(question, text)
            except ValueError as error:
                _say(wrapped(str(error), 4, "  "))

    def end(self) -> None:
        """What is still needed for a verdict, in lines that can be typed here."""
        stock = self.stock
        found, beyond = still_needed(stock.folder, stock.catalogue, stock.now)
        print(f"{len(stock.now.parts)} parts in {stock.folder / 'parts.csv'}")
        if not found:
            print(f"Nothing more is needed for a verdict: `tubewright check {stock.folder}`")
        else:
            print(paint("STILL NEEDED FOR A VERDICT", "head"))
            rows = _needed(found)
            print(table(rows[:MOST_LINES]))
            if len(rows) > MOST_LINES:
                print(f"  and {len(rows) - MOST_LINES} more: `tubewright check {stock.folder}`")
        if beyond:
            print(f"No sum looks at {beyond} more part{'s' if beyond > 1 else ''}: `tubewright check "
                  f"{stock.folder}` says what to do about {'each' if beyond > 1 else 'it'}")


def _needed(found: list[Needed]) -> list[tuple[str, str]]:
    """Rows of what is needed: one for each reason, with the line to type for the first it is of."""
    by: dict[str, list[Needed]] = {}
    for needed in found:
        by.setdefault(needed.what.replace(needed.ref, "…"), []).append(needed)
    rows = []
    for each in by.values():
        first = each[0]
        typed = f" Type: {first.line}" if first.line else ""
        rows.append((_refs(list(dict.fromkeys(needed.ref for needed in each))), f"{first.what.rstrip('.')}.{typed}"))
    return rows


def _refs(refs: list[str]) -> str:
    return ", ".join(refs[:4]) + (f" and {len(refs) - 4} more" if len(refs) > 4 else "")


def _taken(taken: Taken) -> str:
    """A part read back: what it was taken for, role, places, readings; what waits or was doubtful below it."""
    part = taken.part
    assert part is not None
    lines = [wrapped(f"{part.ref}: {'; '.join(_words(part))}", 4)]
    if taken.before is not None and taken.before.marking != part.marking:
        lines.append(f"    was: {printable(taken.before.marking)}")
    if taken.later:
        lines.append(wrapped(f"{taken.later} is not listed, and no node or winding yet: kept in the note, and put "
                             "there as soon as it is", 4, "    "))
    lines += [wrapped(note, 4, "    ") for note in taken.told]
    if part.kind is None:
        lines.append(f"    kept as it is; type {part.ref} and another marking to correct it")
    return "\n".join(lines)


def _words(part: Part) -> Iterable[str]:
    yield meaning(part.reading).rstrip(".")
    if part.role:
        yield part.role
    if part.at:
        yield "at " + ", ".join(map(str, part.at))
    measured = [part.measured, *part.measured_sections.values()]
    if any(measured):
        yield "reads " + ", ".join(_read(name, value) for each in measured for name, value in each.items())


def _read(name: str, value: float) -> str:
    """A reading in words: plate 248 V."""
    what, _, unit = name.rpartition("_")
    said, written = {"uf": ("", "µF"), "ohms": ("", "ohm"), "volts": ("across it", "V")}.get(
        name, (what, {"v": "V", "a": "A", "ohm": "ohm", "mm": "mm"}.get(unit, unit)))
    return f"{said} {amount(value, written)}".strip()


def _all(stock: Stock) -> str:
    """Every part, and what unit.toml says, a line each."""
    parts = stock.now.parts.values()
    rows = [(p.ref, p.shown, p.role or "", " ".join(map(str, p.at)), p.note) for p in parts]
    known = stock.known()
    lines = [table(rows) if rows else "no parts yet"]
    lines += [wrapped(described(kind, name, known), 4) for kind, name in is_told(known)]
    return "\n".join(lines)
