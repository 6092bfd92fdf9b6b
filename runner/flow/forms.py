"""How a mapping of a document is declared: its keys, and what may stand under each.

Rules: a form is a class with one annotation a key; strict, no key beyond the ones declared, never
changed once read. What is declared here is checked in `shape` and described in `schema`, and
nowhere else. The kinds of annotation are those that documents need: text of a kind (`Leaf`), `int`,
`Literal`, a form, a list or dictionary of them, one of two by its shape, a step by its first key.
Nothing is worked out before it is asked for: the lists of a day are read before the first screen.
"""

from __future__ import annotations

import inspect
import types
import typing
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any, ClassVar, Final, NamedTuple, Self

REQUIRED: Final = object()


class FieldFault(Exception):
    """What is wrong with a value, in the parts that a fault shows."""

    def __init__(self, what: str, allowed: str, nearest: str, todo: str) -> None:
        super().__init__(what)
        self.what = what
        self.allowed = allowed
        self.nearest = nearest
        self.todo = todo


@dataclass(frozen=True, eq=False)
class Leaf:
    """A kind of text: `read` gives the value that the engine wants, or raises `FieldFault`.

    With `text`, only text reaches `read`; without, it judges whatever stands there. `schema` is its
    JSON Schema.
    """

    read: Callable[[Any], Any]
    schema: dict[str, Any]
    text: bool = True


class Chosen(NamedTuple):
    """How one of several forms is chosen: by the shape of the value, or by the first key."""

    by: str


BY_SHAPE: Final = Chosen("shape")
"""A short form (a text) or a long one (a mapping): what stands there decides, nothing is tried."""
BY_FIRST_KEY: Final = Chosen("first key")


class Declared(NamedTuple):
    """What `Field` says of a key; REQUIRED as default: the key may not be missing."""

    default: Any
    alias: str
    description: str
    ge: int | None
    le: int | None
    min_length: int | None
    max_length: int | None


def Field(  # noqa: N802  it stands where a value does, and makes one
    default: Any = REQUIRED,
    *,
    alias: str = "",
    description: str,
    ge: int | None = None,
    le: int | None = None,
    min_length: int | None = None,
    max_length: int | None = None,
) -> Any:
    """Declares a key: `alias` is its spelling where that can be no name of Python; bounds of a
    whole number, or of the number of entries."""
    return Declared(default, alias, description, ge, le, min_length, max_length)


class Key(NamedTuple):
    """One key of a form: its spelling, the attribute that holds its value, what may stand there."""

    key: str
    name: str
    annotation: Any
    declared: Declared

    @property
    def required(self) -> bool:
        """Whether it may not be missing."""
        return self.declared.default is REQUIRED


class Strict:
    """A mapping of a document: strict types, no unknown key, never changed once read.

    An instance holds what was given (`vars`); a default is the class's, and shared.
    """

    kind: ClassVar[str] = ""
    keys: ClassVar[dict[str, Key]] = {}
    schema_extra: ClassVar[dict[str, Any]] = {}

    def __init_subclass__(cls) -> None:
        super().__init_subclass__()
        keys = dict(cls.keys)
        for name, annotation in inspect.get_annotations(cls, eval_str=True).items():
            declared = cls.__dict__.get(name)
            if not isinstance(declared, Declared):
                continue
            key = declared.alias or name
            keys[key] = Key(key, name, annotation, declared)
            if declared.default is REQUIRED:
                delattr(cls, name)
            else:
                setattr(cls, name, declared.default)
        cls.keys = keys

    @classmethod
    def made(cls, given: dict[str, Any]) -> Self:
        """The form with the values given, by attribute; they have been checked."""
        form = cls.__new__(cls)
        form.__dict__.update(given)
        return form

    def rule(self) -> FieldFault | None:
        """What is wrong with the values together, each being right."""
        return None

    def __setattr__(self, name: str, value: object) -> None:
        raise AttributeError(f"{type(self).__name__} is never changed once read")

    def __eq__(self, other: object) -> bool:
        return type(other) is type(self) and vars(other) == vars(self)

    def __repr__(self) -> str:
        given = ", ".join(f"{name}={value!r}" for name, value in vars(self).items())
        return f"{type(self).__name__}({given})"


def bare(annotation: Any) -> Any:
    """An annotation without the None that stands for an absent key."""
    if is_union(annotation):
        real = [one for one in typing.get_args(annotation) if one is not types.NoneType]
        return real[0] if len(real) == 1 else annotation
    return annotation


def is_union(annotation: Any) -> bool:
    """Whether an annotation is `A | B`."""
    return isinstance(annotation, types.UnionType) or typing.get_origin(annotation) is typing.Union


def marked(annotation: Any) -> tuple[Any, Any]:
    """What an annotation is, and the `Leaf` or `Chosen` that it is marked with, or None."""
    if typing.get_origin(annotation) is typing.Annotated:
        return annotation.__origin__, annotation.__metadata__[0]
    return annotation, None


def forms_of(annotation: Any) -> Iterator[type[Strict]]:
    """Every form that an annotation speaks of."""
    if isinstance(annotation, type) and issubclass(annotation, Strict):
        yield annotation
    else:
        for argument in typing.get_args(annotation):
            yield from forms_of(argument)
