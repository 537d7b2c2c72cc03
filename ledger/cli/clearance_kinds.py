"""The kinds of parts that do not touch, as small pictures: seen from above, <-> is the gap that is measured."""

from __future__ import annotations

from typing import Final

PICTURES: Final = r"""
beside: A is next to B in one plane; the gap is between their edges.

    +-------+     +-------+
    |   A   | <-> |   B   |
    +-------+     +-------+

passes through: A goes through an opening of B, from one face to the other; the gap is to the rim of that opening.

    +------------------------+
    |  B   +------------+    |
    |      |  +-----+   |    |
    |      |  |  A  |<->|    |
    |      |  +-----+   |    |
    |      +------------+    |
    +------------------------+

inside: A stays within the bore of B, a ring; where B has no opening, B is an envelope and its outline counts.

    +-----------------+         +-----------------+
    | B  +---------+  |         |  B (envelope)   |
    |    | +---+   |  |         |    +---+        |
    |    | | A |<->|  |   or    |    | A |<------>|
    |    | +---+   |  |         |    +---+        |
    |    +---------+  |         |                 |
    +-----------------+         +-----------------+
""".strip("\n")
