"""What a clean copy of a drawing fixes by itself, and what it asks first: codes of the reader, and words to ask in."""

from __future__ import annotations

from typing import Final

FIXED: Final = (
    "unexplained_content",
    "ignored_content",
    "duplicate",
    "zero_length",
    "gap_closed",
    "unit_differs",
    "unit_contradicted",
    "facets",
    "few_sides",
    "out_of_round",
    "fit_points",
    "only_recovered",
)
ASKED: Final = {
    "several_outlines": "say which outline is the part (--outline 1 is the largest)",
    "maybe_bend": "say what the broken lines are (--layer LINETYPE=bend, mark, ignore or cut)",
    "dimension_differs": "look at each, and say that the lines count as drawn (--as-drawn)",
    "few_sides": "say that it is round (--hole LABEL=round, or --hole all=round), or put the pocket on a layer POCKET",
    "concentric": "say which circle is cut (--hole LABEL=SIZE, or --hole all=smallest)",
    "unit_missing": "enter the unit (--unit)",
    "unit_doubtful": "enter the unit (--unit)",
}
