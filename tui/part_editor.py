"""What every editor of a part has: the screen that asks and shows, the part as last read, how an act is recorded."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from ledger.domain.errors import BadInput

if TYPE_CHECKING:
    from ledger.domain.record import Part
    from tui.frame import JobScreen
    from tui.part_row import PartView


@dataclass(frozen=True)
class Editor:
    """Verbs of one part; `screen` asks and shows."""

    screen: JobScreen
    number: str
    view: PartView | None

    @property
    def part(self) -> Part | None:
        """The part as last read."""
        return self.view.part if self.view else None

    def refuses(self) -> bool:
        """Whether nothing can be entered, which is said at once: the revision is locked, and never changes again."""
        if self.part is None or not self.part.locked:
            return False
        self.screen.tell(
            f"{self.number} {self.part.revision} is locked and never changes; n opens a new revision",
            fault=True,
        )
        return True

    def ask(
        self,
        title: str,
        read: Callable[[str], str],
        take: Callable[[str], None],
        *,
        value: str = "",
        hint: str = "",
    ) -> None:
        """Ask for a line on the screen, unless the revision is locked."""
        if not self.refuses():
            self.screen.enter(title, read, take, value=value, hint=hint)

    def _work(self, work: Callable[[], Any]) -> None:
        self.screen.ask(work, self.screen.recorded, busy="recording", group="change")

    def _do(self, kind: str, **fields: Any) -> None:
        do(self.screen, kind, **fields)


def do(screen: JobScreen, kind: str, *, then: Callable[[Any], None] | None = None, **fields: Any) -> None:
    """Record one act by the workstation, in a thread; then show it, unless `then` does something else."""
    screen.ask(
        lambda: screen.job.enter(kind, by=screen.fitup.workstation, **fields),
        then or screen.recorded,
        busy="recording",
        group="change",
    )


def words_expected(what: str) -> Callable[[str], str]:
    """A reader of prose that must not be empty."""

    def read(text: str) -> str:
        if not text.strip():
            raise BadInput(f"{what} is required")
        return "Enter records it"

    return read
