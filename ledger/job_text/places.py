"""
Where a record stands in the text of a job: what kind it is of, what it is called, and what the text may hold there.
"""

from __future__ import annotations

import difflib
from collections.abc import Collection, Mapping
from typing import Final

from ledger.domain.errors import BadInput, visible
from ledger.domain.fields import PART_FIELDS
from ledger.job_text.of_job import AFTER_PARTS, OF_JOB
from ledger.job_text.of_parts import OF_PART
from ledger.job_text.statements import Text
from ledger.job_text.written import PLAIN, POLICY, Path, in_words, records

KINDS: Final = {kind.name: kind for kind in (*OF_JOB, *OF_PART, *AFTER_PARTS)}
OF_CONNECTION: Final = frozenset(kind.name for kind in AFTER_PARTS if kind.of == "connection")
FIELDS: Final = {f.name: f for f in PART_FIELDS}
ORDER: Final = (
    *PLAIN,
    *(k.name for k in OF_JOB),
    "",
    "drawing",
    *(k.name for k in (*OF_PART, *AFTER_PARTS)),
)
OF_PART_KEYS: Final = (*FIELDS, "drawing", *(k.name for k in OF_PART))
TOP: Final = (*PLAIN, "policy", *(k.name for k in OF_JOB), "parts", *(k.name for k in AFTER_PARTS))


PART: Final = ("parts", "NUMBER")


def kind_at(path: Path) -> str:
    """The name of the kind of a record; "" for a part and its fields."""
    if path[0] != "parts":
        return path[0]
    return path[2] if len(path) > len(PART) and (path[2] in KINDS or path[2] == "drawing") else ""


def named(path: Path) -> str:
    """What a record is called: `dimension width of BASE`."""
    if path[0] == "parts":
        if len(path) == len(PART):
            return f"part {path[1]}"
        kind = KINDS.get(path[2])
        if kind is None or len(path) == len(PART) + 1:
            return f"{FIELDS[path[2]].label if path[2] in FIELDS else path[2]} of {path[1]}"
        return f"{kind.about} {path[3]} of {path[1]}"
    kind = KINDS.get(path[0])
    if kind is None or len(path) == 1:
        return path[0].replace("_", " ")
    return f"{kind.about} {path[-1]}" + (f" of {path[1]}" if kind.of == "connection" else "")


def require_known(text: Text) -> None:
    """Raise BadInput for a key that no text has, with the nearest one, and for what is no table where one belongs."""
    for name, value in text.values.items():
        _one_of(text, (name,), TOP)
        if name not in PLAIN:
            _require_tables(text, name, value)
        elif not isinstance(value, str):
            raise BadInput(f"{text.at((name,))}: expected a text in quotation marks")
    for path, told in records(text.values).items():
        kind = KINDS.get(kind_at(path))
        if kind and kind.name not in ("on_hand", "after") and not isinstance(told, str | dict):
            raise BadInput(
                f"{text.at(path)}: read {in_words(told)!r} as {named(path)}; expected a text, such as {kind.sample!r}"
            )


def _require_tables(text: Text, name: str, value: object) -> None:
    for key, inner in _table(text, (name,), value).items():
        if name == "policy":
            _one_of(text, (name, key), POLICY)
        elif name in OF_CONNECTION:
            _table(text, (name, key), inner)
        elif name == "parts":
            for of, said in _table(text, (name, key), inner).items():
                _one_of(text, (name, key, of), OF_PART_KEYS)
                if of in KINDS:
                    _table(text, (name, key, of), said)


def _one_of(text: Text, path: Path, known: Collection[str]) -> None:
    if path[-1] not in known:
        near = difflib.get_close_matches(path[-1], known, 1)
        nearest = f"; the nearest is {near[0]}" if near else ""
        raise BadInput(
            f"{text.at(path)}: {visible(path[-1])!r} is nothing that a text of the job has here{nearest}; "
            f"there are {', '.join(known)}"
        )


def _table(text: Text, path: Path, value: object) -> Mapping[str, object]:
    if not isinstance(value, Mapping):
        raise BadInput(f"{text.at(path)}: read {in_words(value)!r} for {visible(path[-1])}; expected a table")
    return value
