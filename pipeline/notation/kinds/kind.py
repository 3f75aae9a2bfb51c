"""What the registry holds of one kind of part."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from pipeline.notation.reading import Reading

Reader = Callable[[str, bool], Reading | None]
"""Reads a cleaned marking; the flag says that ref, role or column expect the kind."""


@dataclass(frozen=True, kw_only=True)
class Kind:
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
    reader : callable or None
        A reader of its own, where quantities in any order do not say enough.
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
    reader: Reader | None = None
    example: str = ""
    electronic: bool = False


def words(text: str) -> tuple[str, ...]:
    """Split words parted by semicolons."""
    return tuple(word.strip() for word in text.split(";") if word.strip())
