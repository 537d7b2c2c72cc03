"""
What the words of a drawing say of a part: its thickness, how many, of what; and where the record says otherwise.

Only the usual ways to write it are read (common practice, no source): “20 THK”, “t = 20”, “PL 20”, “QTY 4”, “4 OFF”.
A number without a unit counts in the unit of the drawing. What is not read this way is shown, and compared by a person.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

_LENGTH = r"(?P<n>\d+(?:[.,]\d+)?)\s*(?P<u>mm|in\b|inch|\")?"
_THICK = (
    re.compile(rf"\b{_LENGTH}\s*(THK|THICK(NESS)?)\b", re.IGNORECASE),
    re.compile(rf"\b(THK|THICK(NESS)?|PL|T)\.?\s*[=:]?\s*{_LENGTH}(?![\d/.])", re.IGNORECASE),
)
_COUNT = (
    re.compile(r"\b(?:QTY|QUANTITY|NO\.? OFF)\.?\s*[=:]?\s*(?P<n>\d+)\b", re.IGNORECASE),
    re.compile(r"\b(?P<n>\d+)\s*(?:OFF|PCS|PIECES|REQ'?D)\b", re.IGNORECASE),
)
_GRADE = re.compile(
    r"\b(S\d{3}\w*|A36|A572|A514|6061(?:-?T6)?|5052(?:-?H32)?|5083|1\.4\d{3}|304L?|316L?|AISI ?\d{3}|HARDOX ?\d+)\b",
    re.IGNORECASE,
)
_SAME_MM = 0.05
_MM = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4, "inch": 25.4, '"': 25.4, "ft": 304.8}  # exact


def thickness_mm(text: str, unit: str) -> float | None:
    """The thickness that words say, mm."""
    for pattern in _THICK:
        found = pattern.search(text)
        if found:
            used = _MM.get((found["u"] or unit).lower(), 1.0)
            return float(found["n"].replace(",", ".")) * used
    return None


def quantity(text: str) -> int | None:
    """How many the words ask for."""
    return next((int(m["n"]) for p in _COUNT if (m := p.search(text)) and len(m["n"]) < 7), None)  # noqa: PLR2004


def grade(text: str) -> str:
    """The grade of material that words name, as written; empty where none is."""
    found = _GRADE.search(text)
    return found.group(0) if found else ""


def against(
    text: str, unit: str, *, thick_mm: float | None, count: int | None, material: str
) -> Iterator[tuple[str, str, str]]:
    """What words say otherwise than the record: (what, as written, as recorded); what is unknown is not compared."""
    thick, many, made_of = thickness_mm(text, unit), quantity(text), grade(text)
    if thick is not None and thick_mm and abs(thick - thick_mm) > _SAME_MM:
        yield "thickness", f"{thick:g} mm", f"{thick_mm:g} mm"
    if many is not None and count and many != count:
        yield "quantity", str(many), str(count)
    if made_of and material and _letters(made_of) not in _letters(material):
        yield "material", made_of, material


def _letters(text: str) -> str:
    return re.sub(r"[^a-z0-9]", "", text.casefold())
