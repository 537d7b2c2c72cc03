"""
Reads a table of this room once, with each row's source spelled out.

A *table* is a TOML file of this package: lists of rows, and `[sources]`, a short name for each source text.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cache
from importlib import resources
from typing import Any


@cache
def table(name: str) -> Mapping[str, Any]:
    """The table of that name. Shared by all callers: not to be changed."""
    return tomllib.loads(resources.files(__package__).joinpath(f"{name}.toml").read_text(encoding="utf-8"))


def source_of(name: str, row: Mapping[str, Any]) -> str:
    """The source of a row, in full. Raises KeyError for a row without one, so that none goes without."""
    return str(table(name)["sources"][row["source"]])


def plain_name(text: str) -> str:
    """A name as tables are searched by: lower case, single spaces."""
    return " ".join(text.lower().split())
