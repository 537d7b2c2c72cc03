"""
Drawings that are saved in the drawing program while the screens are open: told at the foot, taken with one key.

A thread of its own watches the folders that drawings were taken from. It only posts messages; it is no worker, because
nothing waits for it, and it ends with the program.
"""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path
from threading import Event, Thread
from typing import TYPE_CHECKING

from textual.message import Message

from ledger.domain.errors import FitupError, visible
from ledger.domain.plural import counted
from tui.choice_window import MarkSome

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from ledger.job import Job, Saved
    from tui.frame import JobScreen

_MOST_TOLD = 3  # of more that wait to be taken only their number is told


class DrawingSaved(Message):
    """A drawing file was saved, or is not what was taken."""

    def __init__(self, saved: Saved) -> None:
        super().__init__()
        self.saved = saved


class Watch:
    """The thread that watches, and what waits to be taken: by path, as it was told last."""

    def __init__(self, post: Callable[[Message], object]) -> None:
        self.waiting: dict[str, Saved] = {}
        self._post = post
        self._folders: tuple[Path, ...] = ()
        self._stop = Event()

    def follow(self, job: Job) -> None:
        """Watch the folders that the job names now."""
        folders = job.drawing_folders()
        if folders == self._folders:
            return
        self.end()
        self._folders, self._stop = folders, Event()
        Thread(target=self._run, args=(job, folders, self._stop), daemon=True, name="drawings").start()

    def end(self) -> None:
        """Watch no longer."""
        self._stop.set()

    def told(self, saved: Saved) -> str:
        """What to say of this one; nothing of a file that is no part's."""
        self.waiting.pop(saved.path, None)
        if saved.can_be_taken:
            self.waiting[saved.path] = saved
        if saved.state == "new":
            return ""
        if len(self.waiting) > _MOST_TOLD:
            return f"{counted(len(self.waiting), 'drawing')} differ from what was taken; A takes them"
        return f"{saved.words}{'; A takes it' if saved.can_be_taken else ''}"

    def _run(self, job: Job, folders: Sequence[Path], stop: Event) -> None:
        with suppress(FitupError):  # a job that cannot be read says so on the screen
            for saved in job.watch(folders, stop):
                if stop.is_set():
                    return
                self._post(DrawingSaved(saved))


def take_saved(screen: JobScreen, watch: Watch) -> None:
    """Take the drawings that wait: the only one at once, of several those that are marked."""
    paths = list(watch.waiting)

    def offered(found: Sequence[Saved]) -> None:
        some = {s.path: s for s in found if s.can_be_taken}
        watch.waiting = dict(some)
        if not some:
            screen.tell("every drawing in the folders is as it was taken")
        elif len(some) == 1:
            take(tuple(some))
        else:
            ways = {path: saved.words for path, saved in some.items()}
            title = "drawings that differ from what was taken: Space marks, Enter takes"
            screen.window(MarkSome(title, ways, marked=ways), take)

    def take(chosen: tuple[str, ...] | None) -> None:
        if chosen:
            some = [watch.waiting[path] for path in chosen]
            work = lambda: screen.job.take_saved(some, by=screen.fitup.workstation)  # noqa: E731 - one call
            screen.ask(work, lambda _taken: taken(some), busy="taking the drawings", group="change")

    def taken(some: Sequence[Saved]) -> None:
        for saved in some:
            watch.waiting.pop(saved.path, None)
        screen.refreshed()
        words = ", ".join(f"{saved.file} as {saved.number}" for saved in some)
        screen.app.notify(visible(words), title="drawing taken", timeout=20, markup=False)

    if not paths:
        screen.tell("no drawing was saved since it was taken")
        return
    screen.ask(lambda: screen.job.saved_drawings(paths), offered, busy="looking at the drawings")
