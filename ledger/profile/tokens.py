"""
DXF bytes as tags, with nothing but the standard library.

A *tag* is a group code and its value. In an ASCII file both stand on a line of their own; in a binary file the
code says how the value is stored. A *real* is a floating-point value; which codes hold one is fixed by the DXF
reference. Values of ASCII tags stay bytes, those of binary ones are bytes, int or float.
"""

from __future__ import annotations

import re
import struct
from collections.abc import Iterator

from ledger.domain.errors import Unreadable, visible

Value = bytes | int | float
Tag = tuple[int, Value]

BINARY_START = b"AutoCAD Binary DXF\r\n\x1a\x00"
_REAL = re.compile(rb"[ \t]*[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?[ \t]*")
_CODE = re.compile(rb"[ \t]*-?\d{1,5}[ \t]*")
_BOM = b"\xef\xbb\xbf"
_XDATA_BYTE = 255
# First and last group code and the struct format of its value in a binary file (DXF reference, group code ranges).
_STORED = (
    (60, 79, "h"),
    (90, 99, "i"),
    (160, 169, "q"),
    (170, 179, "h"),
    (270, 289, "h"),
    (290, 299, "B"),
    (310, 319, "b"),
    (370, 389, "h"),
    (400, 409, "h"),
    (420, 429, "i"),
    (440, 459, "i"),
    (1004, 1004, "b"),
    (1060, 1070, "h"),
    (1071, 1071, "i"),
)


def is_real(code: int) -> bool:
    """Whether the group code holds a floating-point number."""
    return (
        10 <= code < 60  # noqa: PLR2004 - ranges of the DXF reference, here and below
        or 110 <= code < 150  # noqa: PLR2004
        or 210 <= code < 240  # noqa: PLR2004
        or 460 <= code < 470  # noqa: PLR2004
        or 1010 <= code < 1060  # noqa: PLR2004
    )


def tags(data: bytes) -> Iterator[Tag]:
    """Every tag in order. Raises Unreadable where the bytes are not DXF or end in the middle of a tag."""
    return _binary(data) if data.startswith(BINARY_START) else _ascii(data)


def real(value: Value) -> float:
    """The number a real tag holds. Raises ValueError on anything but a plain decimal number."""
    if isinstance(value, bytes):
        if not _REAL.fullmatch(value):
            raise ValueError(visible(value.decode("latin-1"), most=30))
        return float(value)
    return float(value)


def word(value: Value) -> str:
    """A value as text, for names and types."""
    return value.decode("utf-8", "replace").strip() if isinstance(value, bytes) else str(value)


def whole(value: Value) -> int:
    """The whole number a tag holds. Raises ValueError on anything else."""
    return int(str(value)) if isinstance(value, float) else int(value)


def _ascii(data: bytes) -> Iterator[Tag]:
    if b"\0" in data:
        raise Unreadable("the file holds NUL characters, so it is not a DXF file; export the drawing again")
    lines = data.removeprefix(_BOM).rstrip(b" \t\r\n\x1a").splitlines()
    known: dict[bytes, int] = {lines[0]: _code(lines[0], 1)} if lines else {}
    for k in range(0, len(lines) - 1, 2):
        text = lines[k]
        code = known.get(text)
        if code is None:
            code = known[text] = _code(text, k + 1)
        yield code, lines[k + 1]
    if len(lines) % 2:
        raise Unreadable(
            f"the file ends in the middle of a tag at line {len(lines)}; export the drawing again"
        )


def _code(text: bytes, line: int) -> int:
    if _CODE.fullmatch(text):
        return int(text)
    shown = visible(text.decode("latin-1"), most=30)
    what = "this is not a DXF file" if line == 1 else "the file is damaged"
    raise Unreadable(
        f"{what}: line {line} should be a group code and is {shown!r}; export the drawing again as DXF"
    )


def _binary(data: bytes) -> Iterator[Tag]:
    at = len(BINARY_START)
    wide = data[at + 1 : at + 2] == b"\0"  # two-byte codes since R13; the first tag is (0, SECTION)
    try:
        while at < len(data):
            code = data[at]
            if wide:
                code, at = code | data[at + 1] << 8, at + 2
            elif code == _XDATA_BYTE:
                code, at = data[at + 1] | data[at + 2] << 8, at + 3
            else:
                at += 1
            value, at = _binary_value(data, code, at)
            yield code, value
            if code == 0 and value == b"EOF":
                if data[at:].strip(b"\0\x1a\r\n "):
                    raise Unreadable("there is data after the end of the drawing; export the drawing again")
                return
    except (IndexError, struct.error, ValueError):
        raise Unreadable(f"the binary file is cut short near byte {at}; export the drawing again") from None


def _binary_value(data: bytes, code: int, at: int) -> tuple[Value, int]:
    form = _stored_as(code)
    if form == "s":
        end = data.index(0, at)
        return data[at:end], end + 1
    if form == "b":
        end = at + 1 + data[at]
        if end > len(data):
            raise IndexError
        return data[at + 1 : end], end
    (value,) = struct.unpack_from("<" + form, data, at)
    return value, at + struct.calcsize("<" + form)


def _stored_as(code: int) -> str:
    """The struct format of a value in a binary file; "s" is a string up to NUL, "b" a counted chunk."""
    if is_real(code):
        return "d"
    return next((form for low, high, form in _STORED if low <= code <= high), "s")
