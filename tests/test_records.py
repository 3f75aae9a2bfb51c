"""Records do what the standard library's dataclasses do: each case is run on both."""

import pickle
from dataclasses import dataclass, field
from dataclasses import replace as replaced

import pytest

from pipeline.records import Record, replace


class Plain(Record):
    a: int
    b: tuple[int, ...] = ()
    c: list[int] = field(default_factory=list)


class Further(Plain):
    b: tuple[int, ...] = (7,)
    d: str = "d"


class Named(Record, kw_only=True):
    a: int = 1
    b: int


class Mutable(Record, frozen=False):
    a: int
    b: list[int] = field(default_factory=list)


@dataclass(frozen=True)
class PlainData:
    a: int
    b: tuple[int, ...] = ()
    c: list[int] = field(default_factory=list)


@dataclass(frozen=True)
class FurtherData(PlainData):
    b: tuple[int, ...] = (7,)
    d: str = "d"


@dataclass(frozen=True, kw_only=True)
class NamedData:
    a: int = 1
    b: int


@dataclass
class MutableData:
    a: int
    b: list[int] = field(default_factory=list)


PAIRS = [(Plain, PlainData), (Further, FurtherData), (Named, NamedData), (Mutable, MutableData)]


def shown(made, *values, **named) -> str:
    """The record as it shows itself under one name, or the kind of error."""
    try:
        return repr(made(*values, **named)).replace("Data(", "(")
    except TypeError:
        return "TypeError"


@pytest.mark.parametrize("ours, theirs", PAIRS, ids=lambda c: c.__name__)
@pytest.mark.parametrize("values, named", [
    ((), {}), ((1,), {}), ((1, 2), {}), ((1, 2, [3]), {}), ((1, 2, [3], "e"), {}), ((1, 2, 3, 4, 5), {}),
    ((), {"a": 1}), ((), {"b": 2}), ((), {"a": 1, "b": 2}), ((1,), {"a": 1}), ((1,), {"z": 1}), ((1,), {"c": [4]})])
def test_it_is_made_and_shown_alike(ours, theirs, values, named):
    assert shown(ours, *values, **named) == shown(theirs, *values, **named)


@pytest.mark.parametrize("kinds", [(Plain, Further), (PlainData, FurtherData)])
def test_alike_where_class_and_fields_are(kinds):
    plain, further = kinds
    assert plain(1, (2,), []) == plain(1, (2,)) != plain(2, (2,))
    assert plain(1, (7,)) != further(1)
    assert hash(plain(1, (2,), ())) == hash(plain(1, (2,), ()))
    with pytest.raises(TypeError):
        hash(plain(1))  # a list cannot be hashed


@pytest.mark.parametrize("kinds", [(Plain, Mutable), (PlainData, MutableData)])
def test_what_may_change(kinds):
    frozen, mutable = kinds
    one = frozen(1)
    with pytest.raises(AttributeError):
        one.a = 2
    with pytest.raises(AttributeError):
        del one.a
    other = mutable(1)
    other.a = 2
    assert (one.a, other.a) == (1, 2)
    assert frozen(1).c is not frozen(1).c
    with pytest.raises(TypeError):
        hash(other)


@pytest.mark.parametrize("kind, change", [(Further, replace), (FurtherData, replaced)])
def test_copies(kind, change):
    one = kind(1, d="e")
    assert change(one, a=2) == kind(2, d="e")
    assert one == kind(1, d="e")
    with pytest.raises(TypeError):
        change(one, z=1)
    assert pickle.loads(pickle.dumps(one)) == one
