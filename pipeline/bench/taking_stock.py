"""Taking stock at the bench: a parts list made line by line, each saved at once, as one speaks it."""

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import NamedTuple

from pipeline.catalogue import Catalogue
from pipeline.checks.check import check
from pipeline.notation.roles import KINDS_OF_ROLE, read_role, role_said
from pipeline.notation.spoken import Spoken, split_spoken
from pipeline.textfile import printable
from pipeline.unit import Part, UnitError, Winding, load, read_part
from pipeline.unit.editing import Cells, EditedList
from pipeline.unit.faults import Faults
from pipeline.unit.files import PARTS, TOML, Listed, listed
from pipeline.unit.lists import BYTE_ORDER_MARK, text_of
from pipeline.unit.parts import LONGEST_REF
from pipeline.unit.places import folded, spelled
from pipeline.writing.files import write_whole

LATER = re.compile(r"(?:^|; )at ([^;]+), not listed yet$")
"""How the note keeps a place that nothing bears yet: it moves to `at` as soon as something does."""
AT_NODES = ("reservoir", "smoothing", "bias filter", "coupling", "dropping", "bleeder")
AT_TUBES = ("cathode bypass", "screen bypass", "cathode", "plate load", "screen", "grid leak")
"""Roles whose part hangs at a node, or at a tube, that the checks must know."""
HEATED_WITHIN = 0.1
"""A winding whose volts, or a string whose amps, are this near to a heater's own may be its (practice)."""
MOST_OFFERED = 12
COMMANDS = ("undo", "drop", "list", "need", "help", "done")


class Taken(NamedTuple):
    """What a line was taken for: the part as it now stands, what it was before, what is told beside it."""

    part: Part | None
    ref: str
    before: Part | None = None
    later: str = ""
    told: tuple[str, ...] = ()


class Question(NamedTuple):
    """What is still missing of a part: a column, the words to ask with, what may be answered, what an empty line is."""

    ref: str
    column: str
    words: str
    known: tuple[str, ...] = ()
    default: str = ""


@dataclass
class Stock:
    """The parts list of the unit in `folder`; every change is on the disk when the call returns."""

    folder: Path
    catalogue: Catalogue
    now: Listed = field(init=False)
    _former: list[tuple[str, str, str]] = field(default_factory=list, init=False)
    _mark: bytes = field(default=b"", init=False)

    def __post_init__(self) -> None:
        """Raises UnitError where there is no unit, or its list cannot be read."""
        if not (self.folder / TOML).is_file():
            raise UnitError(f"{self.folder}: no unit folder: `tubewright start {self.folder}` makes one")
        self.now = self._listed(self._text())
        if self.now.faults:
            raise UnitError(*self.now.faults)

    def take(self, line: str) -> Taken:
        """Enter what a line says of a part; raises ValueError with what is wrong with it, and nothing is changed."""
        spoken = split_spoken(printable(line), self._is_place)
        ref, listing = self._ref(spoken.ref), EditedList(self._text())
        before = self.now.parts.get(ref)
        cells = self._cells(spoken, ref, before)
        if before is None and not cells.get("marking"):
            raise ValueError(f"{ref}: what is printed on it? Write for example {ref} {_example(ref)}")
        if "note" in cells and before is not None and before.note and not LATER.search(before.note):
            cells["note"] = f"{before.note}; {cells['note']}"
        listing.put({"ref": ref, **cells})
        self._save(listing, ref)
        return self._taken(ref, before, spoken)

    def answer(self, question: Question, text: str) -> Taken:
        """Fill in what was asked; raises ValueError where the answer cannot be read."""
        before, listing, text = self.now.parts[question.ref], EditedList(self._text()), printable(text)
        if question.column == "role":
            role = read_role(text)
            cells = {"role": role}
        else:
            places, told = self.now.names.places(text)
            if told or not places:
                later = spelled(text)
                if len(later.split()) > 3:
                    raise ValueError(told[0] if told else f"{text[:40]!r} names no place")
                cells = {"note": _noted(before.note, later)}
            else:
                cells = {"at": text}
        listing.put({"ref": question.ref, **cells})
        self._save(listing, question.ref)
        return self._taken(question.ref, before, Spoken(question.ref))

    def drop(self, name: str) -> str:
        """Take a part out of the list; its ref. Raises ValueError where there is none, or unit.toml names it."""
        ref = self.now.names.find(name, "part")
        if ref is None:
            raise ValueError(self.now.names.unknown(name, "part") or f"no part {printable(name[:20])!r}")
        listing = EditedList(self._text())
        listing.drop(ref)
        named = [fault for fault in self._listed(listing.text).elsewhere if fault not in self.now.elsewhere]
        if named:
            raise ValueError(f"{ref} is still named: {named[0]}")
        self._save(listing, ref)
        return ref

    def undo(self) -> str:
        """Go back by one change; the ref it was of. Raises ValueError where there is none, or another has written."""
        if not self._former:
            raise ValueError("nothing to undo since this began; `drop REF` takes a part out")
        ref, text, after = self._former[-1]
        if self._text() != after:
            raise ValueError(f"{PARTS} was changed by another program since: nothing is undone")
        self._former.pop()
        self._write(text)
        self.now = self._listed(text)
        return ref

    def questions(self, ref: str) -> Iterator[Question]:
        """What the checks need to know of a part and its line does not say, the first first."""
        part = self.now.parts.get(ref)
        if part is None or part.kind not in ("tube", "lamp", "capacitor", "resistor"):
            return
        if part.role is None and part.kind in ("capacitor", "resistor"):
            known = tuple(role for role, kinds in KINDS_OF_ROLE.items() if kinds[0] == part.kind)
            yield Question(ref, "role", f"What does {ref} do", known)
        part = self.now.parts[ref]
        if part.at or LATER.search(part.note):
            return
        if part.kind in ("tube", "lamp"):
            known = tuple(self.now.names.of_kind("winding", "string"))
            if known:
                yield Question(ref, "at", f"Which winding or string heats {ref}", known, self._heated_by(part))
        elif part.role in AT_NODES + AT_TUBES:
            kind = "node" if part.role in AT_NODES else "part"
            known = tuple(n for n in self.now.names.of_kind(kind) if kind == "node" or self._is_tube(n))
            what = "node" if kind == "node" else "tube"
            yield Question(ref, "at", f"At which {what} is {ref}", known, known[0] if len(known) == 1 else "")

    def _is_tube(self, ref: str) -> bool:
        return self.now.parts[ref].kind == "tube"

    def _heated_by(self, part: Part) -> str:
        """The only winding whose volts, or string whose amps, are those of the part's heater; empty for none."""
        volts, amps = part.rating("tubes", "heater_v"), part.rating("tubes", "heater_a")
        found = [id_ for id_, by in self.now.heating.items() for figure in [volts if isinstance(by, Winding) else amps]
                 if figure is not None and figure.value
                 and abs((by.volts if isinstance(by, Winding) else by.amps) / figure.value - 1) <= HEATED_WITHIN]
        return found[0] if len(found) == 1 else ""

    def _ref(self, said: str) -> str:
        """The ref that a line begins with, as the list writes it; raises ValueError where it is none."""
        ref = spelled(said)
        known = self.now.names.find(ref) if ref else None
        if known is not None and self.now.names.kinds[known] != "part":
            kind = self.now.names.kinds[known]
            raise ValueError(f"{known} is already a {kind} of this unit: give the part another ref")
        if known is not None:
            return known
        waits = next((p.ref for p in self.now.parts.values() if p.role in AT_NODES and p.role != "coupling"
                      and (m := LATER.search(p.note)) and folded(m[1]) == folded(ref)), None)
        if waits is not None:
            raise ValueError(f"{waits} hangs at a node {ref}: give this part another ref")
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
        cells = {"marking": marking, "role": role or "", "measured": spoken.measured, "note": spoken.note,
                 "at": spoken.at if spoken.known else ""}
        cells = {name: cell for name, cell in cells.items() if cell}
        if spoken.at and not spoken.known:
            cells["note"] = _noted(spoken.note or (before.note if before else ""), spelled(spoken.at))
        return cells

    def _fits(self, ref: str, marking: str, role: str) -> bool:
        """Whether such a part can have the role; what cannot be read may."""
        kind = self._kind(ref, marking, role)
        return kind is None or kind in KINDS_OF_ROLE[role]

    def _kind(self, ref: str, marking: str, role: str | None) -> str | None:
        return read_part(Part(ref, marking, role), self.catalogue).kind

    def _is_place(self, text: str) -> bool:
        return isinstance(self.now.names.place(text), tuple)

    def _save(self, listing: EditedList, ref: str) -> None:
        """Write the list, if it can be read again; raises ValueError where it cannot."""
        former = self._text()
        found = self._listed(listing.text)
        if found.faults:
            told = found.faults[0].split(": ", 1)[-1]
            raise ValueError(told)
        self._write(listing.text)
        self._settled()
        self._former.append((ref, former, self._text()))

    def _settled(self) -> None:
        """Read the list, and give those that wait for a place theirs, where something now bears its name."""
        text = self._text()
        self.now, listing, moved = self._listed(text), EditedList(text), False
        for part in self.now.parts.values():
            match = LATER.search(part.note)
            if match and not part.at and self._fits_place(part, match[1]):
                listing.put({"ref": part.ref, "at": match[1], "note": part.note[:match.start()]})
                moved = True
        if moved and not (found := self._listed(listing.text)).faults:
            self._write(listing.text)
            self.now = found

    def _fits_place(self, part: Part, text: str) -> bool:
        """Whether a text names places such as the part can hang at: a capacitor of a node does not hang at a belt."""
        places, told = self.now.names.places(text)
        kinds = {self.now.names.kinds[place.ref] for place in places}
        if told or not places:
            return False
        if part.role in AT_NODES and part.role != "coupling":
            return kinds <= {"node"}
        return part.role not in AT_TUBES or (kinds == {"part"} and all(self._is_tube(place.ref) for place in places))

    def _taken(self, ref: str, before: Part | None, spoken: Spoken) -> Taken:
        part = self.now.parts[ref]
        match = LATER.search(part.note)
        told = tuple(note for note in part.reading.notes if not note.startswith("no unit marked"))  # it is read back
        return Taken(part, ref, before, match[1] if match else "", told)

    def _text(self) -> str:
        """What parts.csv holds now: it may be edited beside this."""
        faults = Faults(self.folder / PARTS)
        if not faults.path.exists():
            return ""
        text = text_of(faults)
        if text is None:
            raise UnitError(*faults.told())
        self._mark = BYTE_ORDER_MARK if faults.path.read_bytes().startswith(BYTE_ORDER_MARK) else b""
        return text

    def _write(self, text: str) -> None:
        write_whole(self.folder / PARTS, self._mark + text.encode(), force=True)

    def _listed(self, text: str) -> Listed:
        return listed(self.folder, self.catalogue, text or EditedList("").text)


def _noted(note: str, later: str) -> str:
    """The note with a place that nothing bears yet, in the place of another such."""
    kept = LATER.sub("", note).strip("; ")
    return f"{kept}; at {later}, not listed yet" if kept else f"at {later}, not listed yet"


def _example(ref: str) -> str:
    return {"V": "6V6 at H1", "C": "16 by 450 reservoir B1", "R": "270 1W cathode V1", "F": "2A slow fuse",
            "T": "output transformer"}.get(ref[0], "and its marking")


def still_needed(folder: Path, catalogue: Catalogue) -> list[tuple[str, str]]:
    """(of what, what to do) before every part has a verdict: faults of unit.toml, else what `check` does not know."""
    try:
        unit = load(folder, catalogue)
    except UnitError as error:
        return [("unit.toml" if TOML in message else message.partition(":")[0], message.removeprefix(f"{folder}/"))
                for message in error.messages]
    checked = check(unit, catalogue)
    found = [("unit.toml", "describes no supply yet: fill in [[supply]] and its nodes")] if not unit.supplies else []
    found += [(f.subject, f.do or f.why) for f in checked.findings if f.verdict == "unknown"]
    found += [(part.ref, part.do or part.why) for part in checked.not_judged]
    waiting = {part.ref: match[1] for part in unit.parts.values() if (match := LATER.search(part.note))}
    found += [(ref, f"{place} is not listed, and no winding or node of unit.toml yet") for ref, place in
              waiting.items()]
    return list(dict.fromkeys(found))
