"""
DXF bytes into a document of the CAD library.

The strict loader comes first. What only the recovering loader can read is marked: it repairs by guessing, so
such a file may be looked at and compared but not cut. Nothing of the library's objects leaves this room.
"""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

from ezdxf import recover
from ezdxf.document import Drawing
from ezdxf.filemanagement import read
from ezdxf.lldxf.tagger import binary_tags_loader
from ezdxf.tools.codepage import toencoding

from ledger.domain.errors import Unreadable, visible

if TYPE_CHECKING:
    from ledger.profile.scan import Scan

_UTF8_SINCE = "AC1021"


def load(data: bytes, seen: Scan) -> tuple[Drawing, bool]:
    """The document, and whether it took the recovering loader. Raises Unreadable when neither can read it."""
    try:
        return _strictly(data, seen), False
    except MemoryError:
        raise
    except Exception as error:  # noqa: BLE001 - a library may fail in any way on a foreign file
        reason = visible(f"{type(error).__name__}: {error}", most=120)
    try:
        return recover.read(io.BytesIO(data))[0], True
    except MemoryError:
        raise
    except Exception:  # noqa: BLE001 - likewise
        raise Unreadable(f"the drawing cannot be read ({reason}); export it again as DXF R2010") from None


def _strictly(data: bytes, seen: Scan) -> Drawing:
    if seen.binary:
        return Drawing.load(binary_tags_loader(data))
    encoding = "utf-8" if seen.version >= _UTF8_SINCE else toencoding(seen.codepage)
    text = io.TextIOWrapper(io.BytesIO(data), encoding=encoding, errors="surrogateescape")
    return read(text)
