"""
How a fastener holds its plies together.

A *through* joint has clearance holes in both plies. Of the others ply B holds the fastener, or its head centers itself
in A, or both; what each can take up is worked out where holes are fitted.
"""

from __future__ import annotations

from typing import Literal

Joint = Literal["through", "tapped", "stud", "captive nut", "dowel", "countersunk", "countersunk tapped"]
Side = Literal["a", "b"]
