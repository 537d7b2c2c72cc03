"""What of a part can be written to a file: packet, papers, pictures."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from textual.binding import BindingType

from ledger.domain.errors import BadInput
from ledger.domain.file_names import stem
from tui.actions import bindings
from tui.ways_screen import Make, Way, WaysScreen, path_of

if TYPE_CHECKING:
    from tui.part_row import PartView

_PICTURES = ("svg", "png")
_BY_ENDING = "(SVG, or PNG by its ending)"


class FilesScreen(WaysScreen):
    """The papers of one part."""

    WHERE = "files"
    BINDINGS: ClassVar[list[BindingType]] = [*bindings(WHERE)]

    def __init__(self, view: PartView) -> None:
        super().__init__()
        self._view = view

    def _title(self) -> str:
        return f"write a file of {self._view.part.number} {self._view.part.revision}"

    def _offers(self) -> list[Way]:
        number, job = self._view.part.number, self.job
        own = stem(number, otherwise="part")
        locked = [r.revision for r in self._view.revisions if r.locked]
        offers: list[Way] = []
        for letter in reversed(locked):
            words = f"packet of the locked revision {letter}, written again with its DXF files"
            offers.append((words, lambda letter=letter: self._packet(letter)))  # type: ignore[misc]  # mypy does not see through the default
        papers: list[tuple[str, str, Make]] = [
            (
                f"vendor sheet{'' if self._view.part.locked else ', marked PREVIEW'} (PDF)",
                f"{own}-sheet.pdf",
                lambda _path: job.sheet(number),
            )
        ]
        for letter in reversed(locked):
            make: Make = lambda _path, letter=letter: job.record(number, letter)  # type: ignore[misc]  # noqa: E731 - mypy does not see through the default
            papers.append((f"job record of revision {letter} (PDF)", f"{own}-{letter}-record.pdf", make))
        papers.append((f"picture {_BY_ENDING}", f"{own}.svg", lambda path: job.picture(number, _kind(path))))
        for connection in self._view.connections:
            make = lambda path, name=connection.name: job.picture(name, _kind(path))  # type: ignore[misc]  # noqa: E731 - as above
            words = f"picture of the connection {connection.name} {_BY_ENDING}"
            papers.append((words, f"{stem(connection.name, otherwise='connection')}.svg", make))
        papers += self._full_size(own)
        for words, name, make in papers:
            offers.append((words, lambda n=name, w=words, m=make: self._paper(w, n, m)))  # type: ignore[misc]  # as above
        return offers

    def _full_size(self, own: str) -> list[tuple[str, str, Make]]:
        """The template on each paper, from the back as well, and what was measured to draw over."""
        part, job = self._view.part, self.job
        found: list[tuple[str, str, Make]] = []
        if part.holes or part.taken:
            for paper, back in (
                ("A4", False),
                ("A3", False),
                ("letter", False),
                ("tabloid", False),
                ("A4", True),
            ):
                make: Make = lambda _path, p=paper, b=back: job.template(part.number, p, turned_over=b).data  # type: ignore[misc]  # noqa: E731 - mypy does not see through the default
                words = f"template at full size on {paper}{', turned over' if back else ''} (PDF)"
                found.append((words, f"{own}-template-{paper}{'-back' if back else ''}.pdf", make))
        if part.points or part.measured_holes:
            words = "measured holes and points to draw over (DXF)"
            found.append((words, f"{own}-points.dxf", lambda _path: job.points_drawing(part.number)))
        return found

    def _packet(self, letter: str) -> None:
        def take(text: str) -> None:
            out = path_of(text)

            def work() -> Path:
                from ledger.files import stage_packet

                name, data, drawings = self.job.packet(self._view.part.number, letter)
                if os.path.lexists(out / name):
                    raise BadInput(f"{out / name} exists already; name another folder")
                _make(out)
                for waiting in stage_packet(out, name, data, drawings):
                    waiting.commit()
                return (out / name).absolute()

            self.ask(work, lambda made: self.tell(f"packet: {made}"), busy="writing", group="change")

        self.enter(
            f"packet of {self._view.part.number} {letter}: into which folder?",
            lambda t: f"into {path_of(t).absolute()}",
            take,
            value=str(self._beside() / "again"),
        )


def _kind(path: Path) -> str:
    """What kind of picture a file is, by its ending. Raises BadInput."""
    kind = path.suffix.removeprefix(".").lower()
    if kind not in _PICTURES:
        raise BadInput(f"{path.name}: expected a name that ends in {', '.join('.' + k for k in _PICTURES)}")
    return kind


def _make(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as fault:
        raise BadInput(f"cannot make {folder}: {fault.strerror}") from fault
