"""
The zip of a packet, written byte by byte: the same files always give the same bytes.

Entries are *stored* (not compressed), sorted by name, dated 1980-01-01, with one mode and one system. The
layout is that of PKWARE's APPNOTE 4.3 (local header, central header, end record). It is written here and
not by a library, because a packet is later compared with a rebuilt one: a library's next version may choose
another version number or flag, and every old packet would look forged.
"""

from __future__ import annotations

import struct
import zlib
from collections.abc import Mapping

MOST_BYTES = 256 * 1024 * 1024
MOST_FILES = 4000

_LOCAL = struct.Struct("<4s5H3I2H")
_CENTRAL = struct.Struct("<4s6H3I5H2I")
_END = struct.Struct("<4s4H2IH")
_VERSION = 20  # APPNOTE 4.4.3: folders in names
_UNIX = 3 << 8
_STORED = 0
_TIME, _DATE = 0, (0 << 9) | (1 << 5) | 1  # 1980-01-01 00:00, the first moment a zip can name
_MODE = 0o100644 << 16


def stored_zip(files: Mapping[str, bytes]) -> bytes:
    """
    The files as a zip. Names are ASCII.

    Raises ValueError past `MOST_FILES` or `MOST_BYTES`: what is built must also be readable again.
    """
    if len(files) > MOST_FILES:
        raise ValueError(f"{len(files)} files in one packet; at most {MOST_FILES}")
    locals_, centrals, offset = [], [], 0
    for name in sorted(files):
        data, label = files[name], name.encode("ascii")
        sizes = (zlib.crc32(data), len(data), len(data))
        common = (0, _STORED, _TIME, _DATE, *sizes, len(label), 0)
        local = _LOCAL.pack(b"PK\3\4", _VERSION, *common) + label + data
        centrals.append(
            _CENTRAL.pack(b"PK\1\2", _UNIX | _VERSION, _VERSION, *common, 0, 0, 0, _MODE, offset) + label
        )
        locals_.append(local)
        offset += len(local)
        if offset > MOST_BYTES:
            raise ValueError(
                f"more than {MOST_BYTES // 1024 // 1024} MB in one packet; lock fewer parts at once"
            )
    directory = b"".join(centrals)
    end = _END.pack(b"PK\5\6", 0, 0, len(files), len(files), len(directory), offset, 0)
    return b"".join(locals_) + directory + end
