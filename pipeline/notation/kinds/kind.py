"""What the registry holds of one kind of part."""

from __future__ import annotations

from collections.abc import Callable
from importlib import import_module

from pipeline.notation.reading import Reading
from pipeline.records import Record

Reader = Callable[[str, bool], Reading | None]
"""Reads a cleaned marking; the flag says that ref, role or column expect the kind."""


class Kind(Record, kw_only=True):
    """One kind of part.

    Attributes
    ----------
    name : str
        As in `Reading.kind` and in the column ``kind`` of a parts list.
    words : tuple of str
        Words that name it in a marking or in that column, in lower case; a plural s may follow each.
    refs : tuple of str
        Letters of a ref that suggest it, in upper case.
    holds : tuple of str
        Quantities of `quantities.QUANTITIES` that its marking can hold.
    own_reader : str
        Module and function of a reader of its own, ``belt.read_belt``, where quantities in any order do not say
        enough; it is imported when it is first asked for.
    example : str
        What its marking is, for a message that it was not found.
    electronic : bool
        Judged by its marking alone, so that a marking that cannot be read is refused.  The other kinds are
        known by their name, ref or column, and whatever is printed on them is kept.
    """

    name: str
    words: tuple[str, ...]
    refs: tuple[str, ...] = ()
    holds: tuple[str, ...] = ()
    own_reader: str = ""
    example: str = ""
    electronic: bool = False

    @property
    def reader(self) -> Reader | None:
        """Its own reader, or None."""
        module, _, function = self.own_reader.partition(".")
        return getattr(import_module(f"pipeline.notation.{module}"), function) if module else None


def words(text: str) -> tuple[str, ...]:
    """Split words parted by semicolons."""
    return tuple(word.strip() for word in text.split(";") if word.strip())
