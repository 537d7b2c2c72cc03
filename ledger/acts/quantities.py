"""
Quantities in acts: read once, when somebody makes the act, and kept from then on as written and exactly.

A field takes what a person wrote, or the value itself. In the body of an entry it is
{"written": "1/2 in", "mm": "12.7"} (deg or mm2 for an angle or an area), null where nothing was entered.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, TypeVar

from pydantic import AfterValidator, BeforeValidator, InstanceOf, PlainSerializer

from ledger.domain.amounts import DEGREES, Amount, to_kept
from ledger.domain.bend import read_bend_angle, read_k_factor
from ledger.domain.quantity import Length, plain

V = TypeVar("V")


def _of(kind: type[V], read: Callable[[str], V]) -> BeforeValidator:
    """A validator that reads what was written and lets a value be."""
    return BeforeValidator(lambda value: value if isinstance(value, kind) else read(value))


def _bend_angle(text: str) -> Amount:
    angle = read_bend_angle(text)
    return Amount(" ".join(text.split()), angle, DEGREES)


_KEPT = PlainSerializer(to_kept)
BendAngle = Annotated[InstanceOf[Length], _of(Length, _bend_angle), _KEPT]
KFactor = Annotated[str, AfterValidator(lambda text: plain(read_k_factor(text)) if text else "")]
