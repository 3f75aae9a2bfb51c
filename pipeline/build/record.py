"""Rows of a table as they are held in memory: the cells in a tuple, their columns named once for all rows.

A dictionary for each row would take five times the room, and the raw tables may grow a hundredfold.
"""

from collections.abc import Iterator, Mapping
from functools import cache
from typing import Any, Generic, TypeVar

T = TypeVar("T")


class Record(Mapping[str, T], Generic[T]):
    """Column → cell of one row; never changed: `record | {...}` is a new dictionary."""

    __slots__ = ("_places", "_cells")

    def __init__(self, cells: Mapping[str, T]):
        self._places = _places(tuple(cells))
        self._cells = tuple(cells.values())

    def __getitem__(self, column: str) -> T:
        return self._cells[self._places[column]]

    def get(self, column: str, default: Any = None) -> Any:
        place = self._places.get(column)
        return default if place is None else self._cells[place]

    def __iter__(self) -> Iterator[str]:
        return iter(self._places)

    def __len__(self) -> int:
        return len(self._cells)

    def __contains__(self, column: object) -> bool:
        return column in self._places

    def __or__(self, more: Mapping[str, T]) -> dict[str, T]:
        return {**self, **more}

    def __repr__(self) -> str:
        return f"Record({dict(self)!r})"


@cache
def _places(columns: tuple[str, ...]) -> dict[str, int]:
    return {column: place for place, column in enumerate(columns)}
