"""
The acts: everything people can do to a job, one small frozen model each; every module here is looked through for them.

Kinds are versioned. An old version stays readable for ever; a kind that is not known here was written by a newer
program, and this one then reads only what it knows how to apply: nothing.
"""

from __future__ import annotations

from collections.abc import Iterator
from importlib import import_module
from pkgutil import iter_modules
from typing import Any

from ledger.acts.base import Act
from ledger.acts.bodies import restored
from ledger.domain.errors import NewerProgram


def _kinds_of(act: type[Act]) -> Iterator[type[Act]]:
    """The acts that derive from one and have a kind of their own."""
    for derived in act.__subclasses__():
        if isinstance(derived.model_fields["kind"].default, str):
            yield derived
        yield from _kinds_of(derived)


ACTS: dict[tuple[str, int], type[Act]] = {}  # by kind and version; filled below, once every module is there


def read_act(data: dict[str, Any]) -> Act:
    """The act that a journal body holds, as it was checked then. Raises NewerProgram, or ValueError for its shape."""
    cls = ACTS.get((data.get("kind", ""), data.get("version", 0)))
    if cls is None:
        raise NewerProgram(
            f"an entry of kind {data.get('kind')!r} was written by a newer program: update this one"
        )
    return restored(cls, data)


def act_named(name: str) -> type[Act]:
    """The newest version of an act by the name of its class, `RecordHole`. Raises KeyError."""
    return {cls.__name__: cls for _, cls in sorted(ACTS.items(), key=lambda known: known[0])}[name]


for _module in iter_modules(__path__):
    import_module(f"{__name__}.{_module.name}")
ACTS |= {
    (cls.model_fields["kind"].default, cls.model_fields["version"].default): cls for cls in _kinds_of(Act)
}
