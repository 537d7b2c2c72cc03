"""What is asked when a folder of drawings is taken."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True, slots=True)
class Reading:
    """What is said of all drawings at once: the unit of their numbers, what layers are for, who cuts them."""

    unit: str | None = None
    roles: Mapping[str, str] = field(default_factory=dict)
    vendor: str = ""


@dataclass(frozen=True, slots=True)
class Asked:
    """
    How a folder is to be taken.

    `names` is how file names read (None: as the job was told), `fields` what is said of every part, `changed` whether
    changed drawings of open parts are taken too, `strict` whether a single refusal refuses everything.
    """

    names: str | None = None
    fields: Mapping[str, Any] = field(default_factory=dict)
    reading: Reading = field(default_factory=Reading)
    changed: bool = False
    strict: bool = False
