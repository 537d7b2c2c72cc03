"""
What a text of the job may hold, as a JSON schema, so that editors complete it and underline what is wrong.

Standard: JSON Schema, draft 2020-12.
"""

from __future__ import annotations

from typing import Any, Final

from ledger.domain.fields import PART_FIELDS, PartField
from ledger.domain.record import FORMS, HANDS
from ledger.job_text.kinds import Kind
from ledger.job_text.of_job import AFTER_PARTS, OF_JOB
from ledger.job_text.of_parts import OF_PART

_TEXT: Final[dict[str, Any]] = {"type": "string"}
_CHOICES: Final = {"form": FORMS, "hand": HANDS}
_PLAIN: Final = {
    "here_by": "the day by which everything must be here, 2027-05-01",
    "file_names": "how file names of drawings read, such as {number}_{material}_{thickness}_x{quantity}",
}


def schema() -> dict[str, Any]:
    """The schema of the whole text."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "the text of a fitup job",
        **_table(
            {
                **{n: {**_TEXT, "description": said} for n, said in _PLAIN.items()},
                "policy": _table(
                    {**dict.fromkeys(("roles", "permits", "raised"), _list(_TEXT)), "odds": _TEXT}
                ),
                **{kind.name: _each(_record(kind)) for kind in OF_JOB},
                "parts": _each(_part()),
                **{kind.name: _of_connections(kind) for kind in AFTER_PARTS},
            }
        ),
    }


def _part() -> dict[str, Any]:
    drawing = dict.fromkeys(("file", "sha256", "unit", "vendor"), _TEXT) | {"layers": _each(_TEXT)}
    return _table(
        {
            **{field.name: _field(field) for field in PART_FIELDS},
            "drawing": {**_table(drawing), "required": ["file"]},
            **{kind.name: _each(_record(kind)) for kind in OF_PART},
        }
    )


def _field(field: PartField) -> dict[str, Any]:
    said = {"description": field.asks} if field.asks else {}
    if field.number:
        return {"type": "integer", "minimum": 0, **said}
    if field.name == "unconnected":
        return {"type": "boolean", "description": "connects to nothing"}
    choices = {"enum": list(_CHOICES[field.name])} if field.name in _CHOICES else {}
    return {**_TEXT, **choices, **said}


def _of_connections(kind: Kind) -> dict[str, Any]:
    one = _record(kind)
    return _each(_each(one)) if kind.of == "connection" else _each(one)


def _record(kind: Kind) -> dict[str, Any]:
    if kind.name == "on_hand":
        return {"type": "integer", "minimum": 0}
    if kind.name == "after":
        return _list(_TEXT)
    if kind.name == "questions":
        return {**_table(dict.fromkeys(("ask", "answer", "links"), _TEXT)), "required": ["ask"]}
    return {"type": ["string", "object"], "description": f"such as {kind.sample!r}"}


def _list(item: dict[str, Any]) -> dict[str, Any]:
    return {"type": "array", "items": item}


def _each(value: dict[str, Any]) -> dict[str, Any]:
    return {"type": "object", "additionalProperties": value}


def _table(values: dict[str, Any]) -> dict[str, Any]:
    return {"type": "object", "properties": values, "additionalProperties": False}
