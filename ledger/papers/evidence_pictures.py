"""Pictures that are kept as evidence, scaled down so that they stand in a report."""

from __future__ import annotations

import warnings
from io import BytesIO
from typing import Final

_WIDEST: Final = 480  # px
_MOST_PIXELS: Final = 80_000_000


def small_picture(data: bytes) -> bytes:
    """
    A picture of at most 480 px on a side, as JPEG; empty for what is no picture or is too large.

    What a camera says of the place and the time is not in it.
    """
    from PIL import Image, ImageOps

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")  # of a picture that would take too much memory
            with Image.open(BytesIO(data)) as picture:
                if picture.width * picture.height > _MOST_PIXELS:
                    return b""
                picture.draft("RGB", (_WIDEST, _WIDEST))
                small = ImageOps.exif_transpose(picture).convert("RGB")
                small.thumbnail((_WIDEST, _WIDEST))
                out = BytesIO()
                small.save(out, "JPEG", quality=80)
    except (OSError, ValueError, SyntaxError, Warning, Image.DecompressionBombError, MemoryError):
        return b""
    return out.getvalue()
