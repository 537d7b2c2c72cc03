"""Taking a part's drawing from a file: its unit and what its layers are for are asked where the file does not say."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from ledger.domain.errors import BadInput, Unreadable
from ledger.words.forms import LAYERS
from ledger.words.layers import layers_line, layers_words
from tui.file_picker import existing, pick
from tui.frame import ASIDE
from tui.part_editor import Editor

if TYPE_CHECKING:
    from ledger.job import Look

UNITS = ("mm", "in", "cm", "m", "ft")


class Taking(Editor):
    """The verb that takes a drawing."""

    def take(self) -> None:
        """Take the drawing from a file; the unit is asked for where the file does not say it."""
        if self.refuses():
            return

        def taken(paths: tuple[str, ...]) -> None:
            self.screen.fitup.last_folder = existing(paths[0])
            self._look_at(paths[0])

        pick(self.screen.window, f"DXF file of {self.number}", self.screen.fitup.last_folder, taken)

    def _look_at(self, path: str) -> None:
        def work() -> tuple[Look, bytes, str]:
            from ledger.files import look

            data = bytes_of(path)
            vendor, roles = self.screen.job.agreed_layers(self.number)
            return look(path, data, roles=roles), data, vendor

        self.screen.ask(work, lambda seen: self._unit(*seen), busy="reading the drawing", group=ASIDE)

    def _unit(self, seen: Look, data: bytes, vendor: str) -> None:
        if seen.profile.unit_sure:
            self._layers(seen, data, vendor, None)
            return
        weighed = next((f.message for f in seen.profile.findings if f.code.startswith("unit_")), "")
        self.screen.enter(
            f"which unit is it? {weighed}",
            unit_words,
            lambda unit: self._layers(seen, data, vendor, unit.strip()),
            hint=f"one of {', '.join(UNITS)}",
        )

    def _layers(self, seen: Look, data: bytes, vendor: str, unit: str | None) -> None:
        """What the layers are for is shown where there is anything to say about it, and can be written otherwise."""
        if all(role == "cut" for _, role in seen.roles):
            self._take(seen.file, data, unit, {}, vendor)
            return
        self.screen.enter(
            f"what the layers of {Path(seen.file).name} are for",
            lambda t: layers_line(t).reading,
            lambda t: self._take(seen.file, data, unit, **layers_line(t).fields),
            value=layers_words(seen.roles, vendor),
            hint=LAYERS.hint,
        )

    def _take(self, path: str, data: bytes, unit: str | None, roles: dict[str, str], vendor: str) -> None:
        screen = self.screen

        def work() -> None:
            screen.job.take_profile(
                self.number, path, data, unit=unit, roles=roles, vendor=vendor, by=screen.fitup.workstation
            )

        screen.ask(work, screen.recorded, busy="taking the drawing", group="change")


def bytes_of(path: str) -> bytes:
    """What lies in a file that was named. Raises Unreadable."""
    from ledger.files import read_regular

    try:
        return read_regular(Path(path).expanduser())
    except RuntimeError as fault:  # no such home
        raise Unreadable(f"cannot read {path}: {fault}") from fault


def unit_words(text: str) -> str:
    """What a typed unit means. Raises BadInput."""
    if text.strip() not in UNITS:
        raise BadInput(f"one of {', '.join(UNITS)}")
    return f"its numbers are {text.strip()}"
