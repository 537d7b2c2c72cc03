"""The text itself, in TOML: made new, or over one that is there, whose comments and order stay."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import tomlkit
from tomlkit import TOMLDocument
from tomlkit.items import Item, Table

HEAD = (
    "The job as text. Edit it, look at what would change with: fitup read FILE",
    "and record it with: fitup read FILE --record",
)


def new_text(values: Mapping[str, Any]) -> str:
    """A text of these values."""
    document = tomlkit.document()
    for line in HEAD:
        document.add(tomlkit.comment(line))
    document.add(tomlkit.nl())
    for name, value in values.items():
        document.add(name, _item(value, at_top=True))
    return tomlkit.dumps(document)


def over(text: str, values: Mapping[str, Any]) -> str:
    """A text with these values in place of those it has; what is the same stays as it is written, comments too."""
    document = tomlkit.parse(text)
    _update(document, values)
    return tomlkit.dumps(document)


def _item(value: Any, *, at_top: bool = False, deep: int = 0) -> Item:
    if not isinstance(value, Mapping):
        return _in_a_line(value)
    plain = {n: v for n, v in value.items() if not isinstance(v, Mapping)}
    inner = {n: v for n, v in value.items() if isinstance(v, Mapping)}
    table = tomlkit.table(is_super_table=at_top and not plain)
    for name, one in plain.items():
        table.add(name, _in_a_line(one))
    for name, one in inner.items():
        table.add(
            name, _inline(one) if deep >= _DEEPEST or _is_record(name, one) else _item(one, deep=deep + 1)
        )
    return table


_DEEPEST = 2


def _is_record(name: str, value: Mapping[str, Any]) -> bool:
    """Whether a table within a table is one record, which stands on a line of its own."""
    return name == "drawing" or bool(
        value.keys() & {"ask", "sha256", "nominal", "labels", "plies", "required"}
    )


def _inline(value: Mapping[str, Any]) -> Item:
    table = tomlkit.inline_table()
    for name, one in value.items():
        table.add(name, _in_a_line(one))
    return table


def _in_a_line(value: Any) -> Item:
    """A value that needs no line of its own; tables in a list neither."""
    if isinstance(value, Mapping):
        return _inline(value)
    if not isinstance(value, list):
        made: Item = tomlkit.item(value)
        return made
    listed = tomlkit.array()
    for one in value:
        listed.append(_in_a_line(one))
    return listed


def _update(there: TOMLDocument | Table, values: Mapping[str, Any], deep: int = 0) -> None:
    for name in [name for name in there if name not in values]:
        there.remove(name)
    for name, value in values.items():
        if name not in there:
            there.add(name, _item(value, at_top=deep == 0, deep=deep))
            continue
        was: Any = there[name]
        if was.unwrap() == value:
            continue
        if isinstance(value, Mapping) and isinstance(was, Table):
            _update(was, value, deep + 1)
        else:
            there[name] = _in_a_line(value)
