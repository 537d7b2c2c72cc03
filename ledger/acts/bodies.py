"""
Acts from the bodies that the journal holds, built without validators.

An act is checked once, when somebody makes it. What was written then is read again by its *shape* alone: which fields
there are, and whether each is text, a number, a list or a row of its own. So no grammar, no list of known words and no
bound of today can refuse what was allowed when it was written.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cache, partial
from types import NoneType, UnionType
from typing import Annotated, Any, Final, Literal, TypeVar, Union, get_args, get_origin

from pydantic import BaseModel

from ledger.domain.kept import READERS, from_kept

M = TypeVar("M", bound=BaseModel)
Builder = Callable[[object], Any]


def restored(kind: type[M], body: object) -> M:
    """The model that was written as this body. Raises ValueError or BadInput where the body has another shape."""
    fields = _builders(kind)
    if not isinstance(body, Mapping) or not body.keys() <= fields.keys():
        raise ValueError(f"no {kind.__name__}: expected the fields {', '.join(fields)}")
    needed, given, made = _left_out(kind)
    if not needed <= body.keys():
        raise ValueError(f"no {kind.__name__}: {', '.join(sorted(needed - body.keys()))} missing")
    plain = _plain_fields(kind)
    said = {
        name: value if type(value) is plain.get(name) else fields[name](value) for name, value in body.items()
    }
    return _constructed(kind, given | {name: make() for name, make in made.items()} | said, set(said))


def _constructed(kind: type[M], values: dict[str, Any], said: set[str]) -> M:
    """What pydantic's `model_construct` makes, at once and not field by field: replay makes acts by the thousand."""
    model = kind.__new__(kind)
    for name, value in (("dict__", values), ("pydantic_fields_set__", said), *_NOTHING_ELSE):
        object.__setattr__(model, f"__{name}", value)
    return model


_NOTHING_ELSE: Final = (("pydantic_extra__", None), ("pydantic_private__", None))


@cache
def _plain_fields(kind: type[BaseModel]) -> Mapping[str, type]:
    """The fields that are text, a number or yes and no, and nothing else: most of them, and taken as they are."""
    simple: Mapping[Any, type] = {kind: kind for kind in (str, int, bool)}
    fields = kind.model_fields.items()
    return {name: simple[f.annotation] for name, f in fields if f.annotation in simple}


@cache
def _left_out(
    kind: type[BaseModel],
) -> tuple[frozenset[str], dict[str, Any], dict[str, Callable[[], Any]]]:
    """The fields that no body leaves out; of the others what they are then, or what makes it."""
    fields = kind.model_fields.items()
    needed = frozenset(name for name, field in fields if field.is_required())
    made: dict[str, Any] = {name: f.default_factory for name, f in fields if f.default_factory is not None}
    return needed, {n: f.default for n, f in fields if n not in needed and n not in made}, made


@cache
def _builders(kind: type[BaseModel]) -> Mapping[str, Builder]:
    return {name: _builder(field.annotation) for name, field in kind.model_fields.items()}


def _builder(expected: Any) -> Builder:
    """What makes a value of an annotated type from JSON. A type that no body can hold is a fault of the program."""
    origin, inner = get_origin(expected), get_args(expected)
    if origin in _INSIDE:
        return _INSIDE[origin](inner)
    if expected in _VALUES:
        return _VALUES[expected]
    if isinstance(expected, type) and issubclass(expected, BaseModel):
        return lambda value: restored(expected, value)
    raise TypeError(f"no body of the journal holds a {expected}")


def _plain(*kinds: type) -> Builder:
    def pick(value: object) -> object:
        if type(value) not in kinds:
            raise ValueError(
                f"expected {' or '.join(k.__name__ for k in kinds)}, found {type(value).__name__}"
            )
        return value

    return pick


def _list(items: tuple[Builder, ...], *, endless: bool) -> Builder:
    def pick(value: object) -> tuple[Any, ...]:
        if not isinstance(value, list) or not (endless or len(value) == len(items)):
            raise ValueError(f"expected a list, found {type(value).__name__}")
        each = items * len(value) if endless else items
        return tuple(build(one) for build, one in zip(each, value, strict=True))

    return pick


def _mapping(item: Builder) -> Builder:
    def pick(value: object) -> dict[str, Any]:
        if not isinstance(value, Mapping):
            raise ValueError(f"expected names with values, found {type(value).__name__}")  # noqa: TRY004 - one kind of refusal for every shape
        return {str(name): item(one) for name, one in value.items()}

    return pick


def _optional(inner: tuple[Any, ...]) -> Builder:
    build = _builder(next(t for t in inner if t is not NoneType))
    return lambda value: None if value is None else build(value)


_VALUES: Mapping[Any, Builder] = {
    **{kind: _plain(kind) for kind in (str, int, bool)},
    Any: lambda value: value,
    **{kind: partial(from_kept, kind) for kind in READERS},
}
_INSIDE: Mapping[Any, Callable[[tuple[Any, ...]], Builder]] = {
    Annotated: lambda inner: _builder(inner[0]),
    Literal: lambda inner: _plain(*{type(value) for value in inner}),
    Union: _optional,
    UnionType: _optional,
    tuple: lambda inner: _list(tuple(_builder(t) for t in inner if t is not ...), endless=... in inner),
    dict: lambda inner: _mapping(_builder(inner[1])),
}
