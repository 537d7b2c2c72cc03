"""What of a part can be written to a file: packet, papers, pictures. A file that is there is kept without a yes."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.widgets import OptionList
from textual.widgets.option_list import Option

from ledger.domain.errors import BadInput
from ledger.domain.whereabouts import folder_of
from tui.actions import bindings
from tui.asking import Confirm
from tui.frame import ShopScreen
from tui.signs import said

if TYPE_CHECKING:
    from tui.part_rows import PartView

Make = Callable[[Path], bytes]
_PICTURES = ("svg", "png")
_BY_ENDING = "(SVG, or PNG by its ending)"


class FilesScreen(ShopScreen):
    """The papers of one part."""

    WHERE = "files"
    BINDINGS: ClassVar[list[BindingType]] = [*bindings(WHERE)]
    DEFAULT_CSS = "FilesScreen OptionList { height: 1fr; }"

    def __init__(self, view: PartView) -> None:
        super().__init__()
        self._view = view
        self._ways: tuple[tuple[str, Callable[[], None]], ...] = ()

    def body(self) -> ComposeResult:
        self._ways = tuple(self._offers())
        yield OptionList(*(Option(said(words)) for words, _way in self._ways), markup=False)

    def on_mount(self) -> None:
        self.head(f"write a file of {self._view.part.number} {self._view.part.revision}")
        listed = self.query_one(OptionList)
        listed.highlighted = 0
        listed.focus()

    def action_open(self) -> None:
        """Write what is under the cursor."""
        at = self.query_one(OptionList).highlighted
        if at is not None and at < len(self._ways):
            self._ways[at][1]()

    @on(OptionList.OptionSelected)
    def row_selected(self) -> None:
        self.action_open()

    def _offers(self) -> list[tuple[str, Callable[[], None]]]:
        number, shop = self._view.part.number, self.shop
        locked = [r.revision for r in self._view.revisions if r.locked]
        offers: list[tuple[str, Callable[[], None]]] = []
        for letter in reversed(locked):
            words = f"packet of the locked revision {letter}, again, with its DXF files"
            offers.append((words, lambda letter=letter: self._packet(letter)))  # type: ignore[misc]  # mypy does not see through the default
        papers: list[tuple[str, str, Make]] = [
            (
                f"vendor's sheet{'' if self._view.part.locked else ', marked PREVIEW'} (PDF)",
                f"{number}-sheet.pdf",
                lambda _path: shop.sheet(number),
            )
        ]
        for letter in reversed(locked):
            make: Make = lambda _path, letter=letter: shop.record(number, letter)  # type: ignore[misc]  # noqa: E731 - mypy does not see through the default
            papers.append((f"shop record of revision {letter} (PDF)", f"{number}-{letter}-record.pdf", make))
        papers.append(
            (f"picture {_BY_ENDING}", f"{number}.svg", lambda path: shop.picture(number, _kind(path)))
        )
        for mate in self._view.mates:
            make = lambda path, name=mate.name: shop.picture(name, _kind(path))  # type: ignore[misc]  # noqa: E731 - as above
            papers.append((f"picture of the mate {mate.name} {_BY_ENDING}", f"{mate.name}.svg", make))
        for words, name, make in papers:
            offers.append((words, lambda n=name, w=words, m=make: self._paper(w, n, m)))  # type: ignore[misc]  # as above
        return offers

    def _paper(self, words: str, name: str, make: Make) -> None:
        def take(text: str) -> None:
            path = _path(text)
            if not os.path.lexists(path):
                self._write(path, make)
                return
            question = Confirm(said(f"{path} is there already: write over it?", "bold"), "Write over it")
            self.window(question, lambda yes: self._write(path, make) if yes else self.tell("left as it was"))

        self.enter(f"{words}: to which file?", _file, take, value=str(self._beside() / _plain(name)))

    def _write(self, path: Path, make: Make) -> None:
        def work() -> Path:
            from ledger.packet.build import write_whole

            write_whole(path, make(path))
            return path.absolute()

        self.ask(work, lambda made: self.tell(f"written: {made}"), busy="writing", group="change")

    def _packet(self, letter: str) -> None:
        def take(text: str) -> None:
            out = _path(text)

            def work() -> Path:
                from ledger.packet.build import stage_packet

                name, data, drawings = self.shop.packet(self._view.part.number, letter)
                if os.path.lexists(out / name):
                    raise BadInput(f"{out / name} is there already; name another folder")
                _make(out)
                for waiting in stage_packet(out, name, data, drawings):
                    waiting.commit()
                return (out / name).absolute()

            self.ask(work, lambda made: self.tell(f"packet: {made}"), busy="writing", group="change")

        self.enter(
            f"packet of {self._view.part.number} {letter}: into which folder?",
            lambda t: f"into {_path(t).absolute()}",
            take,
            value=str(self._beside() / "again"),
        )

    def _beside(self) -> Path:
        return folder_of(self.fitup.place)


def _path(text: str) -> Path:
    if not text.strip() or "\0" in text:
        raise BadInput("a path is wanted")
    return Path(text.strip()).expanduser()


def _file(text: str) -> str:
    path = _path(text)
    if path.is_dir():
        raise BadInput("that is a folder: name a file in it")
    if not path.absolute().parent.is_dir():
        raise BadInput(f"there is no folder {path.absolute().parent}")
    return "there is a file already: it asks before writing over it" if path.exists() else "a new file"


def _kind(path: Path) -> str:
    """What kind of picture a file is, by its ending. Raises BadInput."""
    kind = path.suffix.removeprefix(".").lower()
    if kind not in _PICTURES:
        raise BadInput(f"{path.name} ends with none of {', '.join('.' + k for k in _PICTURES)}: name it so")
    return kind


def _plain(name: str) -> str:
    """A file name without what a folder could be read from."""
    return "".join(c if c.isalnum() or c in "-_. " else "_" for c in name)


def _make(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as fault:
        raise BadInput(f"cannot make {folder}: {fault.strerror}") from fault
