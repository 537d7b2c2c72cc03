"""A part case: one revision of a part, with what is known about it beside its own record."""

from __future__ import annotations

from dataclasses import MISSING, dataclass, fields, replace
from typing import Any

from ledger.domain.record import Part, Question

_EMPTY: dict[str, Any] = {f.name: f.default for f in fields(Part) if f.default is not MISSING}


@dataclass(frozen=True, slots=True)
class PartCase:
    """
    A part, the names of the connections it is in, its twin of the opposite hand, and the set it is judged in.

    `others` are parts that it could be taken for, nearest first; so many more were left out as `others_left` says.
    `blocking` are open questions about other parts that block it; `late` are the days that questions are past.
    """

    part: Part
    connections: tuple[str, ...] = ()
    twin: Part | None = None
    others: tuple[Part, ...] = ()
    others_left: int = 0
    together: tuple[str, ...] = ()
    blocking: tuple[tuple[str, Question], ...] = ()
    late: tuple[str, ...] = ()

    def shown(self, besides: tuple[str, ...], apart_from: tuple[str, ...]) -> PartCase:
        """The case as a check sees it that declares these: others and the set on demand, no field that it leaves."""
        part = replace(self.part, **{name: _EMPTY[name] for name in apart_from}) if apart_from else self.part
        others = {} if "others" in besides else {"others": (), "others_left": 0}
        asked = {} if "asked" in besides else {"blocking": (), "late": ()}
        together = self.together if "together" in besides else ()
        return replace(self, part=part, together=together, **others, **asked)  # type: ignore[arg-type]  # by name
