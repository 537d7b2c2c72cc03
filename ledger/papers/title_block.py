"""
The title block of a sheet: the fields of ISO 7200, the scale, the fingerprint, and a code to hold it against.

The *code* (a QR code) holds number, revision and fingerprint, so that a loose sheet can be held against the record.
The sheet is part of what the lock signs, so it names the journal seal as it stood before the lock.
"""

from __future__ import annotations

from dataclasses import dataclass

from ledger.domain.errors import visible
from ledger.domain.record import Part
from ledger.papers.page import Area, Page

DOCUMENT = "vendor sheet"


@dataclass(frozen=True, slots=True)
class Issue:
    """
    Who issues a sheet, of which subject, on which day (ISO 8601), and who answers for it.

    `seal` is the journal seal before the lock, `root` the short fingerprint of the job's root. Without a day nothing
    has been issued: it is a preview.
    """

    owner: str
    subject: str
    creator: str
    approval: str
    day: str = ""
    seal: str = ""
    root: str = ""

    @property
    def is_preview(self) -> bool:
        """Whether nobody has released this."""
        return not self.day


def code_words(part: Part, subject: str) -> str:
    """What the code in the corner holds: number, revision, fingerprint, one to a line."""
    return f"{visible(part.number)}\n{visible(part.revision)}\n{subject}"


def title_block(page: Page, area: Area, part: Part, issue: Issue, scale: str, *, sheets: int = 1) -> None:
    """The fields of ISO 7200 beside the code; `sheets` is how many pages there are."""
    page.frame(area)
    page.fill(Area(area.x + 0.5, area.top - 0.5, area.height - 1, area.height - 1), grey=1.0)
    _code(
        page,
        Area(area.x + 2, area.top - 2, area.height - 4, area.height - 4),
        code_words(part, issue.subject),
    )
    x, width = area.x + area.height, area.width - area.height
    kind = f"{DOCUMENT}, PREVIEW: not released, do not cut" if issue.is_preview else DOCUMENT
    lines = (
        ((0.56, "legal owner", issue.owner), (0.44, "document type", kind)),
        ((1.0, "title", part.title),),
        (
            (0.6, "identification number", part.number),
            (0.2, "revision index", part.revision),
            (0.2, "sheet", f"1/{sheets}"),
        ),
        (
            (0.36, "creator", issue.creator),
            (0.4, "approval person", issue.approval),
            (0.24, "date of issue", issue.day or "not issued"),
        ),
        ((0.14, "scale", scale), (0.86, "fingerprint", issue.subject)),
        (
            (0.74, "journal seal before the lock", issue.seal or "not locked"),
            (0.26, "root of the job", issue.root or "nobody enrolled"),
        ),
    )
    heights = (7.0, 9.0, 8.0, 8.0, 6.0, 6.0)
    top = area.top
    for cells, height in zip(lines, heights, strict=True):
        left = x
        for share, caption, words in cells:
            _field(page, Area(left, top, width * share, height), caption, words)
            left += width * share
        top -= height


def _field(page: Page, area: Area, caption: str, words: str) -> None:
    page.frame(area, width=0.18)
    page.block(Area(area.x + 0.8, area.top - 0.3, area.width - 1.6, 2.2), caption, sizes=(4.5,), grey=0.3)
    inner = Area(area.x + 0.8, area.top - 2.4, area.width - 1.6, area.height - 2.7)
    page.block(inner, words or "not recorded", sizes=(9.0, 8.0, 7.0, 6.0, 5.0, 4.5, 4.0, 3.5), bold=True)


def _code(page: Page, area: Area, words: str) -> None:
    """The QR code as rectangles, one for each run of dark modules."""
    import segno

    matrix = segno.make(words, error="m", micro=False, encoding="utf-8").matrix
    step = area.width / (len(matrix) + 8)  # four modules stay free on every side (ISO/IEC 18004)
    for down, modules in enumerate(matrix):
        start = None
        for across, dark in enumerate((*modules, 0)):
            if dark and start is None:
                start = across
            elif not dark and start is not None:
                left, top = area.x + (4 + start) * step, area.top - (4 + down) * step
                page.fill(Area(left, top, (across - start) * step, step))
                start = None
