"""What keeps a job and what leaves it: a folder guarded, a packet or an old seal verified, the whole exported."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from rich.text import Text
from textual.binding import BindingType

from ledger.domain.errors import BadInput, visible
from ledger.domain.plural import counted
from ledger.domain.short_key import short_key
from tui.actions import bindings
from tui.drawing_intake import bytes_of
from tui.signs import finding_text, said
from tui.ways_screen import Way, WaysScreen, file_line, path_of

if TYPE_CHECKING:
    from ledger.files import Examined
    from ledger.job import Folder, PacketStanding, Standing


class KeepingScreen(WaysScreen):
    """The job as a whole."""

    WHERE = "custody"
    BINDINGS: ClassVar[list[BindingType]] = [*bindings(WHERE)]

    def _title(self) -> str:
        return "check outgoing files, verify, export"

    def _offers(self) -> list[Way]:
        job = self.job
        report = lambda _path: job.report()  # noqa: E731 - one call
        table = lambda _path: job.dimension_table()  # noqa: E731 - one call
        return [
            ("check a folder: is every DXF in it locked?", self._guard),
            ("verify a packet, or a drawing by its bytes", self._verify),
            ("verify the job against a seal you noted", self._since),
            ("report of the whole job (HTML)", lambda: self._paper("report", "report.html", report)),
            ("dimensions as a table (CSV)", lambda: self._paper("dimensions", "dimensions.csv", table)),
            ("export the journal and every kept file", self._export),
            ("back up the job while others work in it", self._backup),
        ]

    def _guard(self) -> None:
        self.enter(
            "which folder goes out?",
            _folder_line,
            lambda text: self.ask(
                lambda: self.job.guard(path_of(text)), self._guarded, busy="reading drawings"
            ),
            value=str(self._beside() / "out"),
        )

    def _guarded(self, seen: Folder) -> None:
        lines = []
        for file in seen.files:
            lines.append(said(f"{self.signs.go if file.may_go else self.signs.no_go} {file.words}"))
            lines += [said(f"    {words}") for words in file.says]
        self._found(Text("\n").join(lines))
        self.tell(seen.words, fault=not seen.may_go)

    def _verify(self) -> None:
        def take(text: str) -> None:
            path = path_of(text)

            def work() -> Callable[[], None]:
                data = bytes_of(str(path))
                if data[:2] == b"PK":
                    return partial(self._packet_seen, self.job.look_into(data))
                return partial(self._drawing_seen, path, self.job.stands(data))

            self.ask(work, lambda show: show(), busy="reading the file")

        self.enter(
            "which file?", lambda t: f"read {path_of(t).absolute()}", take, value=str(self._beside() / "out")
        )

    def _drawing_seen(self, path: Path, seen: Standing) -> None:
        self._found(Text())
        what = f"{seen.number} {seen.revision}" if seen.number else "no locked revision: do not send it"
        state = "" if not seen.number else ", current" if seen.current else ", superseded"
        self.tell(f"{path.name}: byte for byte {what}{state}", fault=not seen.current)

    def _packet_seen(self, seen: PacketStanding) -> None:
        report = seen.report
        names = ", ".join(f"{p.number} {p.revision}" for p in report.parts)
        lines = [
            said(f"packet of {names}, seal {report.seal}"),
            said(f"locked by {report.person} with key {report.signer_key[:16]}; root {short_key(seen.root)}"),
            *(finding_text(self.app, self.signs, f, full=True) for f in report.problems),
            *(said(words) for words in seen.says),
        ]
        self._found(Text("\n").join(lines))
        intact = "" if seen.tampered else "intact, "
        self.tell(f"{intact}{seen.state}: checked {seen.against}", fault=not seen.ok)

    def _since(self) -> None:
        from ledger.domain.seal import read_seal

        def reads(text: str) -> str:
            seq, start = read_seal(text)
            return f"entry {seq}, {start}" if "-" in start else f"entry {seq}, whose hash begins {start[:12]}"

        def take(text: str) -> None:
            from ledger.files import examine

            self.ask(lambda: examine(self.fitup.place, since=text.strip()), self._examined, busy="verifying")

        self.enter(
            "which seal?",
            reads,
            take,
            hint="SEQ:HASH as a packet or sheet shows it, or the seal that you noted",
        )

    def _examined(self, seen: Examined) -> None:
        lines = [finding_text(self.app, self.signs, f, full=True) for f in seen.problems]
        self._found(Text("\n").join([*lines, *([said(seen.unsigned, most=400)] if seen.unsigned else [])]))
        words = (
            "intact, and continues from that seal"
            if seen.whole
            else "altered, or not continued from that seal"
        )
        self.tell(
            f"{counted(seen.entries, 'entry', 'entries')}, seal {seen.seal[:24]}: {words}",
            fault=not seen.whole,
        )

    def _export(self) -> None:
        self._out("export", "job.zip", self.job.export)

    def _backup(self) -> None:
        self._out("copy", "copy.db", self.job.backup)

    def _out(self, words: str, name: str, work: Callable[[Path], str]) -> None:
        def take(text: str) -> None:
            path = path_of(text)
            done = lambda seal: self.tell(f"{words}: {visible(str(path.absolute()))}, seal {seal[:24]}")  # noqa: E731
            self.ask(lambda: work(path), done, busy="writing", group="change")

        self.enter(f"{words}: where to?", _new_line, take, value=str(self._beside() / name))


def _folder_line(text: str) -> str:
    path = path_of(text)
    if not path.is_dir():
        raise BadInput(f"there is no folder {path.absolute()}")
    return f"every DXF in {path.absolute()}"


def _new_line(text: str) -> str:
    path = path_of(text)
    if path.exists():
        raise BadInput(f"{path.absolute()} exists already and is not overwritten; name another")
    return file_line(text)
