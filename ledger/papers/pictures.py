"""A drawing as a picture in a file, by the ending of its name."""

from __future__ import annotations

from ledger.domain.drawing import Drawing
from ledger.domain.errors import BadInput, visible


def picture(drawing: Drawing, kind: str) -> bytes:
    """The drawing as `svg` or `png`. Raises BadInput for another kind, or a drawing that is not finite."""
    from ledger.papers.png import png
    from ledger.papers.svg import svg

    makers = {"svg": svg, "png": png}
    if kind not in makers:
        raise BadInput(
            f"a picture is written as svg or png, not as {visible(kind)!r}: end the file's name so"
        )
    return makers[kind](drawing)
