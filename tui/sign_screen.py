"""
Signing: exactly what is signed, then by whom and as what.

It shows every part of the set with its fingerprint, what stands against signing, the warnings one by one, which the
signature acknowledges, and what changed since the person under the cursor last signed. One person alone types key
dimensions again, with the stored values hidden.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from typing import TYPE_CHECKING, Any, ClassVar

from rich.text import Text
from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import VerticalScroll
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from ledger.domain.plural import counted
from ledger.domain.quantity import read_length
from ledger.domain.record import KEEPER
from tui.actions import bindings
from tui.entry_windows import Confirm
from tui.frame import JobScreen
from tui.signs import finding_line, finding_lines, said

if TYPE_CHECKING:
    from ledger.domain.verdict import Verdict
    from ledger.job import Since

_RE_ENTRIES = 2
MOST_CHANGES = 100


class SignScreen(JobScreen):
    """Sign a set of parts."""

    WHERE = "sign"
    BINDINGS: ClassVar[list[BindingType]] = [*bindings(WHERE)]
    DEFAULT_CSS = """
    SignScreen #what { height: 1fr; padding: 0 1; }
    SignScreen #changed { height: auto; max-height: 6; padding: 0 1; background: $panel; }
    SignScreen #who { height: auto; max-height: 9; }
    """

    def __init__(self, numbers: tuple[str, ...]) -> None:
        super().__init__()
        self.numbers = numbers
        self.verdicts: tuple[Verdict, ...] = ()
        self._offers: tuple[tuple[str, str], ...] = ()
        self._expected: tuple[str, ...] = ()
        self._alone = False
        self._done = ""
        self._since: dict[str, tuple[Since, ...] | None] = {}  # None: being worked out

    def body(self) -> ComposeResult:
        with VerticalScroll(id="what"):
            yield Static("", id="subject")
        with VerticalScroll(id="changed"):
            yield Static("", id="since")
        yield OptionList(id="who", markup=False)

    def on_mount(self) -> None:
        self.head(f"sign {', '.join(self.numbers)}")
        self.query_one(OptionList).focus()

    def refreshed(self) -> None:
        self.ask(self._look, self._show, busy="checking")

    def action_open(self) -> None:
        """Sign as the row under the cursor says."""
        at = self.query_one(OptionList).highlighted
        if at is not None and at < len(self._offers):
            self._begin(*self._offers[at])

    def action_lock(self) -> None:
        """Go on to locking the same set."""
        from tui.lock_screen import LockScreen

        self.app.switch_screen(LockScreen(self.numbers))

    @on(OptionList.OptionSelected, "#who")
    def row_selected(self) -> None:
        self.action_open()

    @on(OptionList.OptionHighlighted, "#who")
    def row_highlighted(self) -> None:
        self._show_since()

    def _tell_since(self, person: str) -> None:
        """What changed since this person last signed; worked out in a thread, once for each person."""
        kept = self._since
        told = kept.get(person)
        self.query_one("#since", Static).update(
            Text("\n").join(since_lines(told))
            if told is not None
            else said(f"comparing with what {person} last signed {self.signs.wait}")
        )
        if person in kept:
            return
        kept[person] = None

        def work() -> tuple[Since, ...]:
            return tuple(self.job.changes_since(n, person, self.numbers) for n in self.numbers)

        def then(found: Any) -> None:
            kept[person] = found
            self._show_since()

        self.run_worker(partial(self._work, work, then), thread=True, group="since", exit_on_error=False)

    def _show_since(self) -> None:
        at = self.query_one(OptionList).highlighted
        if at is not None and at < len(self._offers):
            self._tell_since(self._offers[at][0])

    def _look(self) -> tuple[Any, ...]:
        job = self.job
        return job.verdicts(self.numbers), job.people(), job.re_entry_required(self.numbers)

    def _show(self, value: Any) -> None:
        self.verdicts, people, self._expected = value
        self._since = {}
        self._alone = len(people) <= 1
        self.query_one("#subject", Static).update(Text("\n").join(self._subject()))
        self._offers = tuple((name, role) for name, roles, _key in people for role in roles if role != KEEPER)
        listed = self.query_one(OptionList)
        listed.clear_options()
        why = [self._in_vain(name, role) for name, role in self._offers]
        listed.add_options(
            [
                Option(said(f"{name} signs as {role}{f': does not count, {vain}' if vain else ''}"))
                for (name, role), vain in zip(self._offers, why, strict=True)
            ]
        )
        listed.highlighted = next((at for at, vain in enumerate(why) if not vain), 0 if why else None)
        if self._done:
            self.tell(f"{self._done}{self._still_missing()}")
            self._done = ""
        if not self._offers:
            self.tell("nobody is enrolled yet: P on the first screen enrolls a person", fault=True)

    def _still_missing(self) -> str:
        """Which roles are missing after a signature, or that nothing is."""
        missing = sorted({s.where for v in self.verdicts for s in v.stops if s.code == "role_missing"})
        if missing:
            return f"; still missing: {', '.join(missing)}"
        return "; GO: l locks" if all(v.go for v in self.verdicts) else ""

    def _subject(self) -> Iterator[Text]:
        for v in self.verdicts:
            yield said(f"{v.part} revision {v.revision}   fingerprint {v.subject[:12]}", "bold")
            against = v.stops_against_signing()
            if against:
                yield said("  must be fixed before anyone can sign:")
            for text, _ in finding_lines(self.app, self.signs, against):
                yield Text("  ").append_text(text)
            if v.warnings:
                yield said("  signing acknowledges:")
            for number, found in enumerate(v.warnings, 1):
                yield said(f"  {number}. ") + finding_line(self.app, self.signs, found)
                if found.message != found.headline:
                    yield said(f"     {found.message}")
            if not (against or v.warnings):
                yield said("  no warnings, nothing to fix before signing")
            for found in v.permitted:
                yield said(f"  permitted: {found.code} [{found.where}] {found.message}")
            for s in v.signed:
                yield said(f"  signed already: {s.role} by {s.person}")

    def _in_vain(self, person: str, role: str) -> str:
        """Why a signature would not count: who drew a part does not check it, nor is one role signed twice."""
        if all(any((s.person, s.role) == (person, role) for s in v.signed) for v in self.verdicts):
            return "signed already"
        drew = any(
            s.person == person and (s.role == "drawn" or s.self_check)
            for v in self.verdicts
            for s in v.signed
        )
        return f"{person} drew it" if role == "checked" and drew and not self._alone else ""

    def _begin(self, person: str, role: str) -> None:
        vain = self._in_vain(person, role)
        if vain:
            self.tell(f"{role} by {person} does not count: {vain}", fault=True)
            return
        if any(v.stops_against_signing() for v in self.verdicts):
            self.tell("the stops above must be fixed before anyone can sign", fault=True)
        elif self._alone and role == "checked":
            self._type_again(person, role, {})
        else:
            self._confirm(person, role, {})

    def _type_again(self, person: str, role: str, again: dict[str, str]) -> None:
        """The key dimensions one after the other, stored values hidden."""
        left = [name for name in self._expected if name not in again]
        if len(again) >= _RE_ENTRIES or not left:
            self._confirm(person, role, again)
            return
        name = left[0]

        def take(text: str) -> None:
            self._type_again(person, role, {**again, name: text})

        self.enter(
            f"{name}, measured again or from notes",
            lambda t: str(read_length(t)),
            take,
            hint="working alone: type two key dimensions again; stored values stay hidden",
        )

    def _confirm(self, person: str, role: str, again: dict[str, str]) -> None:
        lines = [
            f"{v.part} {v.revision} {v.subject[:12]}, {counted(len(v.warnings), 'warning')}"
            for v in self.verdicts
        ]
        text = Text().append_text(said(f"{person} signs as {role}:", "bold"))
        for line in lines:
            text.append("\n").append_text(said(line))

        def answered(yes: bool | None) -> None:
            if yes:
                self._sign(person, role, again)

        self.window(Confirm(text, "Sign"), answered)

    def _sign(self, person: str, role: str, again: dict[str, str]) -> None:
        def signed(_value: Any) -> None:
            self._done = f"{person} signed as {role}"
            self.refreshed()

        self.ask(
            lambda: self.job.sign(self.numbers, role, person, again), signed, busy="signing", group="change"
        )


def since_lines(told: tuple[Since, ...]) -> Iterator[Text]:
    """What changed of each part since somebody signed it, a line each."""
    for since in told:
        yield said(since.words, "bold")
        for change in since.changes[:MOST_CHANGES]:
            yield said(f"  {change.words}")
        if len(since.changes) > MOST_CHANGES:
            yield said(f"  {len(since.changes) - MOST_CHANGES} more; C on the part's screen shows all")
