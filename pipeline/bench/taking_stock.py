"""Taking stock at the bench: parts list and unit.toml made line by line, each saved at once, as one speaks it."""

import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import NamedTuple

from pipeline.bench.asking import AT_NODES, AT_TUBES, Question, asked_of_fact, asked_of_part
from pipeline.bench.later import LATER, noted, waits_at
from pipeline.bench.stock_files import StockFiles, Texts
from pipeline.bench.told import Applied, Fact, Known, apply, dropped, read_fact
from pipeline.bench.told.derive import BETWEEN, derived, roles_given
from pipeline.bench.told.stages import ELECTRODES, STAGE_SAID, is_reading, leading_tubes
from pipeline.catalogue import Catalogue
from pipeline.notation.roles import KINDS_OF_ROLE, read_role, role_said
from pipeline.notation.spoken import Spoken, split_spoken
from pipeline.textfile import printable
from pipeline.unit import Part, UnitError, read_part
from pipeline.unit.editing import Cells, EditedList
from pipeline.unit.files import PARTS, TOML, Listed, listed
from pipeline.unit.parts import LONGEST_REF
from pipeline.unit.places import folded, spelled
from pipeline.unit.toml_editing import EditedToml

MOST_DERIVED = 60
ELECTROLYTIC = ("reservoir", "smoothing", "bias filter", "cathode bypass")
"""Roles in which an electrolytic surprises nobody."""
COMMANDS = ("undo", "drop", "list", "need", "help", "done")
_PENDING = re.compile(r": no part '|: no (?:node|winding|string|winding or string) '|: is missing: ")
"""What unit.toml may lack while stock is being taken: it is asked for, and told at the end."""


class Taken(NamedTuple):
    """What a line was taken for: the part as it now stands, what it was before, what is told beside it.

    Of a line about the unit itself `fact` says which table it went into; `also` are tables that followed from parts.
    """

    part: Part | None
    ref: str
    before: Part | None = None
    later: str = ""
    told: tuple[str, ...] = ()
    fact: Applied | None = None
    also: tuple[Applied, ...] = ()


@dataclass
class Stock:
    """The files of the unit in `folder`; every change is on the disk when the call returns."""

    folder: Path
    catalogue: Catalogue
    now: Listed = field(init=False)
    files: StockFiles = field(init=False)

    def __post_init__(self) -> None:
        """Raises UnitError where there is no unit, or its list cannot be read."""
        if not (self.folder / TOML).is_file():
            raise UnitError(f"{self.folder}: no unit folder: `tubewright start {self.folder}` makes one")
        self.files = StockFiles(self.folder)
        self.now = self._listed(self.files.texts())
        if self.now.faults:
            raise UnitError(*self.now.faults)

    def take(self, line: str) -> Taken:
        """Enter what a line says; raises ValueError with what is wrong with it, and nothing is changed."""
        line = printable(line)
        known = self.known()
        fact = read_fact(line, known) if known.toml.text else None
        return self._tell(fact, known) if fact is not None else self._part(self._as_reading(line, known))

    def _as_reading(self, line: str, known: Known) -> str:
        """`V1 plate 248 V` is a reading, although nobody says `reads`; so are bare volts of a listed resistor."""
        if match := re.fullmatch(r"(\S+)\s+([\d.,]+\s*m?V)", line.strip()):
            part = self.now.parts.get(self.now.names.find(match[1], "part") or "")
            if part is not None and part.kind == "resistor" and part.reading.ohms:
                return f"{part.ref} reads {match[2]}"
        tubes, rest = leading_tubes(line, known)
        if len(tubes) != 1 or not is_reading(rest):
            return line
        section = f"{tubes[0].section} " if tubes[0].section else ""
        return f"{tubes[0].ref} reads {section}{rest}"

    def _part(self, line: str) -> Taken:
        spoken = split_spoken(line, self._is_place)
        texts = self.files.texts()
        ref, listing = self._ref(spoken.ref), EditedList(texts[PARTS])
        before = self.now.parts.get(ref)
        cells = self._cells(spoken, ref, before)
        if before is None and not cells.get("marking"):
            raise ValueError(f"{ref}: what is printed on it? Write for example {ref} {_example(ref)}")
        if told := _no_marking(ref, cells.get("marking", "")):
            raise ValueError(told)
        if "note" in cells and before is not None and before.note and not waits_at(before):
            cells["note"] = f"{before.note}; {cells['note']}"
        listing.put({"ref": ref, **cells})
        also = self._save({**texts, PARTS: listing.text}, ref)
        return self._taken(ref, before, also)

    def _tell(self, fact: Fact, known: Known) -> Taken:
        """Enter a fact about the unit itself, and what it says of parts by the way."""
        texts = self.files.texts()
        applied, listing = apply(fact, known), EditedList(texts[PARTS])
        for ref, said in fact.measured.items():
            if ref in self.now.parts and self.now.parts[ref].reading.ohms is None:
                listing.put({"ref": ref, "measured": said})
        also = self._save({PARTS: listing.text, TOML: known.toml.text}, applied.name)
        return Taken(None, applied.name, told=applied.told, fact=applied, also=also)

    def answer(self, question: Question, text: str) -> Taken:
        """Fill in what was asked; raises ValueError where the answer cannot be read."""
        text = printable(text).strip()
        if question.line:
            bare = question.unit and re.fullmatch(r"[\d.,]+(?:\s*-\s*0\s*-\s*[\d.,]+)?", text)
            return self.take(question.line.format(f"{text} {question.unit}" if bare else text))
        before, texts = self.now.parts[question.ref], self.files.texts()
        listing = EditedList(texts[PARTS])
        if question.column == "role":
            cells = {"role": read_role(text)}
        else:
            text = re.sub(r"(?i)(?<=[\w+-])\s*(?:-|\bto\b|,|\band\b)\s*(?=[A-Za-z])", " ", text)
            places, told = self.now.names.places(text)
            if told or not places:
                later = spelled(text)
                if len(later.split()) > 3:
                    raise ValueError(told[0] if told else f"{text[:40]!r} names no place")
                cells = {"note": noted(before.note, later)}
            else:
                cells = {"at": text}
        listing.put({"ref": question.ref, **cells})
        also = self._save({**texts, PARTS: listing.text}, question.ref)
        return self._taken(question.ref, before, also)

    def drop(self, name: str) -> str:
        """Take a part, winding, string, supply, node or stage out; what it was.

        Raises ValueError where there is none, or something else names it.
        """
        known, texts = self.known(), self.files.texts()
        if known.toml.text and (what := dropped(printable(name), known)):
            self._save({**texts, TOML: known.toml.text}, what, fewer=what)
            return what
        ref = self.now.names.find(name, "part")
        if ref is None:
            raise ValueError(self.now.names.unknown(name, "part") or f"no part {printable(name[:20])!r}")
        listing = EditedList(texts[PARTS])
        listing.drop(ref)
        self._save({**texts, PARTS: listing.text}, ref, fewer=ref)
        return ref

    def undo(self) -> str:
        """Go back by one change; what it was of. Raises ValueError where there is none, or another has written."""
        what = self.files.back()
        self.now = self._listed(self.files.texts())
        return what

    def questions(self, taken: Taken) -> Iterator[Question]:
        """What the checks need to know of what was just listed, and its lines do not say, the first first."""
        known = self.known()
        if taken.fact is not None:
            yield from asked_of_fact(taken.fact.table, taken.fact.name, known)
        elif taken.ref:
            yield from asked_of_part(taken.ref, known, self.now.heating)

    def known(self) -> Known:
        """What a line may speak of now; without unit.toml's tables where that cannot be read."""
        return self._known(self.now, self.files.texts())

    def _known(self, now: Listed, texts: Texts) -> Known:
        try:
            toml = EditedToml(texts[TOML])
        except ValueError:
            toml = EditedToml("")
        return Known(now.names, now.parts, toml, self.catalogue)

    def _ref(self, said: str) -> str:
        """The ref that a line begins with, as the list writes it; raises ValueError where it is none."""
        ref = spelled(said)
        known = self.now.names.find(ref) if ref else None
        if known is not None and self.now.names.kinds[known] != "part":
            kind = self.now.names.kinds[known]
            raise ValueError(f"{known} is already a {kind} of this unit: give the part another ref")
        if known is not None:
            return known
        of_can = next((f"{p.ref}{letter}" for p in self.now.parts.values() if p.kind == "capacitor"
                       for letter in p.sections if folded(f"{p.ref}{letter}") == folded(ref)), None)
        if of_can is not None:
            raise ValueError(f"{of_can} is a section of {of_can[:-1]}: say the node it stands at, for example "
                             f"node {(self.now.names.of_kind('node') or ['B1'])[0]} capacitors {of_can}")
        waits = next((p.ref for p in self.now.parts.values() if p.role in AT_NODES and p.role != "coupling"
                      and folded(ref) in map(folded, waits_at(p).split())), None)
        if waits is not None:
            raise ValueError(f"{waits} hangs at a node {ref}, and nothing feeds that yet: say for example "
                             f"{(self.now.names.of_kind('node') or ['B1'])[-1]} to {ref} through R3; a part needs "
                             "another ref")
        if not re.match(r"[^\W\d_]", ref) or not re.search(r"\d", ref) and ref != ref.upper() or len(ref) < 2:
            raise ValueError(f"{printable(said[:20])!r} is no ref: begin with one such as V1, C3 or BELT1; "
                             f"or one of {', '.join(COMMANDS)}")
        if len(ref) > LONGEST_REF:
            raise ValueError(f"{printable(ref[:20])!r}: too long for a ref: use one such as V1 or C3")
        return ref.upper() if ref.islower() else ref

    def _cells(self, spoken: Spoken, ref: str, before: Part | None) -> Cells:
        """The columns that a line fills; what it does not say stays as it was."""
        marking, role = spoken.marking, spoken.role
        if before is not None and role is None and (alone := role_said(marking)):
            marking, role = "", alone
        if marking and role and not self._fits(ref, marking, role):
            marking, role = f"{marking} {spoken.said}", None
        if role is None and (before is None or before.role is None):
            role = self._named_in(ref, marking)
        if role is None and (before is None or before.role is None) and self._joins_nodes(spoken.at):
            kind = self._kind(ref, marking or (before.marking if before else ""), None)
            role = next((r for r in BETWEEN if kind in KINDS_OF_ROLE[r]), None)
        cells = {"marking": marking, "role": role or "", "measured": spoken.measured, "note": spoken.note,
                 "at": spoken.at if spoken.known else ""}
        cells = {name: cell for name, cell in cells.items() if cell}
        if spoken.at and not spoken.known:
            cells["note"] = noted(spoken.note or (before.note if before else ""), spelled(spoken.at))
        return cells

    def _named_in(self, ref: str, marking: str) -> str | None:
        """The role that a transformer's own name tells: `output transformer 5k`."""
        match = re.search(r"(?i)\b(output|power|mains|interstage|driver) (?:transformer|trafo|xfmr|xformer|transf)\b|"
                          r"\bopt\b", marking)
        role = role_said(f"{match[1] or 'output'} transformer") if match else None
        return role if role and self._kind(ref, marking, None) == "transformer" else None

    def _joins_nodes(self, at: str) -> bool:
        """Whether the places are two, and none of them a part: then it stands between two nodes."""
        words = at.split()
        return len(words) == 2 and all(self.now.names.kinds.get(self.now.names.find(w) or "", "node") == "node"
                                       for w in words)

    def _fits(self, ref: str, marking: str, role: str) -> bool:
        """Whether such a part can have the role; what cannot be read may."""
        kind = self._kind(ref, marking, role)
        return kind is None or kind in KINDS_OF_ROLE[role]

    def _kind(self, ref: str, marking: str, role: str | None) -> str | None:
        return read_part(Part(ref, marking, role), self.catalogue).kind

    def _is_place(self, text: str) -> bool:
        return isinstance(self.now.names.place(text), tuple)

    def _save(self, texts: Texts, what: str, fewer: str = "") -> tuple[Applied, ...]:
        """Write the files, if they can be read again, and what follows from them; the tables that followed.

        Raises ValueError, and changes nothing, where they cannot; `fewer` is what was taken out, which nothing else
        may name any more.
        """
        before = self.files.texts()
        found = self._listed(texts)
        if found.faults:
            told = found.faults[0].split(": ", 1)[-1]
            raise ValueError(f"{fewer} is still named: {told}" if fewer else told)
        more = Counter(map(_unplaced, found.elsewhere)) - Counter(map(_unplaced, self.now.elsewhere))
        for fault in found.elsewhere:
            if more[_unplaced(fault)] and (fewer or not _PENDING.search(fault)):
                raise ValueError(f"{fewer} is still named: {fault}" if fewer else _unplaced(fault))
        self.now = found
        texts = self._settled(found, texts)
        texts, also = (texts, ()) if fewer else self._derived(texts)
        self.files.write(texts)
        self.files.remember(what, before)
        return also

    def _settled(self, found: Listed, texts: Texts) -> Texts:
        """Give those that wait for a place theirs, where something now bears its name.

        A part that a supply, node or stage names has its role from there, where its own line gives none.
        """
        listing, moved = EditedList(texts[PARTS]), False
        for ref, role, at in roles_given(self._known(found, texts)):
            listing.put({"ref": ref, "role": role, **({"at": at} if at else {})})
            moved = True
        for part in found.parts.values():
            match = LATER.search(part.note)
            if match and not part.at and self._fits_place(part, match[1]):
                listing.put({"ref": part.ref, "at": match[1], "note": part.note[:match.start()]})
                moved = True
        if moved:
            changed = {**texts, PARTS: listing.text}
            if not (now := self._listed(changed)).faults:
                self.now = now
                return changed
        return texts

    def _derived(self, texts: Texts) -> tuple[Texts, tuple[Applied, ...]]:
        """What the parts say of nodes and stages, put into unit.toml until nothing more follows."""
        also: list[Applied] = []
        for _ in range(MOST_DERIVED):
            try:
                known = self._known(self.now, texts)
                fact = next(derived(known), None)
                if fact is None:
                    break
                applied = apply(fact, known)
            except ValueError:
                break
            changed = {**texts, TOML: known.toml.text}
            now = self._listed(changed)
            if now.faults or Counter(map(_unplaced, now.elsewhere)) - Counter(map(_unplaced, self.now.elsewhere)):
                break
            self.now = now
            texts = self._settled(now, changed)
            also.append(applied)
        return texts, tuple(also)

    def _fits_place(self, part: Part, text: str) -> bool:
        """Whether a text names places such as the part can hang at: a capacitor of a node does not hang at a belt."""
        places, told = self.now.names.places(text)
        kinds = {self.now.names.kinds[place.ref] for place in places}
        if told or not places:
            return False
        if part.role in AT_NODES and part.role != "coupling":
            return kinds <= {"node"}
        tubes = all(self.now.parts[place.ref].kind == "tube" for place in places if place.ref in self.now.parts)
        return part.role not in AT_TUBES or (kinds <= {"part", "node"} and "part" in kinds and tubes)

    def _taken(self, ref: str, before: Part | None, also: tuple[Applied, ...]) -> Taken:
        part = self.now.parts[ref]
        told = tuple(note for note in part.reading.notes if not _goes_without_saying(note, part))
        return Taken(part, ref, before, waits_at(part), told, also=also)

    def _listed(self, texts: Texts) -> Listed:
        return listed(self.folder, self.catalogue, texts[PARTS] or EditedList("").text, texts[TOML])


def _unplaced(fault: str) -> str:
    """A fault without its file and line, which a change above it moves."""
    return re.sub(r"^.*?unit\.toml:\d+: ", "", fault)


def _no_marking(ref: str, marking: str) -> str:
    """What to say of words that are no marking, but tell where something hangs that is not listed yet."""
    first = marking.partition(" ")[0].lower()
    if first in ("to", "from", "through", "via", "draws", "feeds", "fed"):
        return f"{ref} is no part and no node yet: a part begins with its marking, a node with its supply, such as " \
               "supply full-wave V5 300-0-300 V 95 ohm, then B1 to B2 through R3"
    words = {word.strip(",;").lower() for word in marking.split()[1:]}
    if ref.startswith("V") and len(words.intersection(ELECTRODES)) > 1:
        return f"{ref}: that is no marking, and not understood as what its electrodes hang at: say for example " \
               f"{STAGE_SAID}"
    if ref.startswith("V") and first in ELECTRODES:
        return f"{ref} is not listed yet: say first what is printed on it, such as {_example(ref)}"
    return ""


def _goes_without_saying(note: str, part: Part) -> bool:
    """Whether a note of the reading tells nothing that is not read back, or said by the role."""
    if note.startswith("no unit marked") or (note.startswith("polarity not marked") and part.role in ELECTROLYTIC):
        return True
    printed = note.removeprefix("printed on it: ").split()
    return note.startswith("printed on it: ") and set(printed) <= set((part.role or "").split())


def _example(ref: str) -> str:
    return {"V": "6V6 at H1", "C": "16 by 450 reservoir B1", "R": "270 1W cathode V1", "F": "2A slow fuse",
            "T": "output transformer"}.get(ref[0], "and its marking")
