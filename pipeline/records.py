"""Records: classes that are their fields, as `dataclass` has them, at a tenth of what those cost to define.

`dataclass` writes and compiles six methods while a class is being defined, half a millisecond each. A command defines
some forty classes before its first sum, which was more than all its reading of files takes. Here one method is
compiled, `__init__`, and that when the first record of a class is made; what compares and shows them is shared.
"""

from dataclasses import MISSING, Field, field
from operator import attrgetter
from typing import Any, ClassVar, NoReturn, TypeVar, dataclass_transform

Some = TypeVar("Some", bound="Record")


@dataclass_transform(frozen_default=True, field_specifiers=(field,))
class Record:
    """A class whose annotations are its fields, in their order, those of the class it extends first.

    A record cannot be changed, unless its class says `frozen=False`; with `kw_only=True` every field is given by name.
    A field may have a default, or be made anew for each record by `field(default_factory=list)`. Two records are alike
    where their class and all fields are.
    """

    _fields: ClassVar[tuple[str, ...]] = ()
    _kw_only: ClassVar[bool] = False
    _values: ClassVar[Any]
    """Gives the fields' values."""

    def __init_subclass__(cls, frozen: bool = True, kw_only: bool = False) -> None:
        cls._fields = tuple(dict.fromkeys((*cls._fields, *cls.__dict__.get("__annotations__", ()))))
        cls._kw_only, cls._values = kw_only, attrgetter(*cls._fields)
        cls.__init__ = _first_init  # type: ignore[method-assign,assignment]
        if not frozen:
            cls.__setattr__ = object.__setattr__  # type: ignore[method-assign,assignment]
            cls.__delattr__ = object.__delattr__  # type: ignore[method-assign,assignment]
            cls.__hash__ = None  # type: ignore[assignment]

    def __setattr__(self, name: str, value: object) -> NoReturn:
        raise AttributeError(f"{type(self).__name__} cannot be changed: {name}")

    def __delattr__(self, name: str) -> NoReturn:
        raise AttributeError(f"{type(self).__name__} cannot be changed: {name}")

    def __eq__(self, other: object) -> bool:
        return type(self)._values(self) == type(self)._values(other) if type(other) is type(self) else NotImplemented

    def __hash__(self) -> int:
        return hash(type(self)._values(self))

    def __repr__(self) -> str:
        said = ", ".join(f"{name}={getattr(self, name)!r}" for name in self._fields)
        return f"{type(self).__qualname__}({said})"


def replace(record: Some, /, **changes: Any) -> Some:
    """A copy of a record with other values in some fields."""
    return type(record)(**{name: getattr(record, name) for name in record._fields} | changes)


def _first_init(self: Record, /, *values: Any, **named: Any) -> None:
    """Make the first record of a class, and the `__init__` that makes the others."""
    cls = type(self)
    cls.__init__ = _compiled(cls)  # type: ignore[method-assign]
    cls.__init__(self, *values, **named)


def _compiled(cls: type[Record]) -> Any:
    """The `__init__` of a class, its fields as parameters."""
    within: dict[str, Any] = {"_set": object.__setattr__, "_missing": MISSING}
    head, body = ["self", "*"] if cls._kw_only else ["self"], []
    for name in cls._fields:
        default, value = getattr(cls, name, MISSING), name
        if isinstance(default, Field):
            within[f"_make_{name}"], default = default.default_factory, MISSING
            head.append(f"{name}=_missing")
            value = f"_make_{name}() if {name} is _missing else {name}"
        elif default is MISSING:
            head.append(name)
        else:
            within[f"_default_{name}"] = default
            head.append(f"{name}=_default_{name}")
        body.append(f"_set(self, {name!r}, {value})")
    exec(f"def __init__({', '.join(head)}):\n  " + "\n  ".join(body), within)
    within["__init__"].__qualname__ = f"{cls.__qualname__}.__init__"
    return within["__init__"]
