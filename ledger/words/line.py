"""What a one-line entry is read as, and what is said of one that cannot be read."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import wraps
from importlib import import_module
from typing import Any, Concatenate, ParamSpec, TypeVar

from ledger.domain.errors import BadInput, UnknownName, visible
from ledger.domain.quantity import read_length
from ledger.words.forms import Form

P = ParamSpec("P")
R = TypeVar("R")
Reader = Callable[Concatenate[str, P], R]


@dataclass(frozen=True, slots=True)
class Line:
    """What a line says: the fields of an act, and the reading to show."""

    fields: dict[str, Any]
    reading: str


def reads(form: Form) -> Callable[[Reader[P, R]], Reader[P, R]]:
    """A reader of lines of this form: a refusal says what was read, what was expected, and an example that reads."""

    def of(reader: Reader[P, R]) -> Reader[P, R]:
        @wraps(reader)
        def line(text: str, /, *args: P.args, **more: P.kwargs) -> R:
            try:
                return reader(text, *args, **more)
            except UnknownName:
                raise  # names what was read, and the nearest that are known
            except BadInput as fault:
                raise BadInput(_whole(str(fault), text.strip(), form)) from fault

        return line

    return of


def above_zero(what: str, text: str) -> str:
    """A length above zero, as written. Raises BadInput."""
    if not read_length(text).mm > 0:
        raise BadInput(f"the {what} is {visible(text)!r}; expected a length above zero")
    return text.strip()


def _whole(said: str, text: str, form: Form) -> str:
    read = "" if "read " in said or repr(visible(text)) in said else f"read {visible(text)!r}: "
    expected = "" if "expected" in said else f"; expected {form.shape}"
    told = any(word in said for word in ("such as", "as in", "e.g.", form.example))
    return f"{read}{said}{expected}" + ("" if told else f", such as {form.example}")


def reader_named(name: str) -> Callable[[str], Line]:
    """The reader of a line by its module in this room and its own name, `trials.trial_line`."""
    module, _, reader = name.partition(".")
    found: Callable[[str], Line] = getattr(import_module(f"ledger.words.{module}"), reader)
    return found
