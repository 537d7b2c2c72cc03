"""Who may sign here as what, and what the job asks for: roles that must sign, warnings that stop, odds of holes."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, ClassVar

from rich.text import Text
from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.widgets import OptionList
from textual.widgets.option_list import Option

from ledger.domain.record import KEEPER
from ledger.domain.required_odds import odds_words, read_odds
from ledger.words.forms import CHANGED_ROLES, PERSON, RAISED, ROLES
from ledger.words.people import person_line, raised_line, roles_change_line, roles_line
from tui.actions import bindings
from tui.choice_window import choose_person
from tui.entry_windows import Confirm, Passphrase
from tui.fixes import KIND_OF
from tui.frame import ASIDE, JobScreen
from tui.key_window import change_key
from tui.signs import said

if TYPE_CHECKING:
    from collections.abc import Callable

    from ledger.domain.verdict import Policy

_EVERY_ROLE = "drawn, checked, approved"


class PeopleScreen(JobScreen):
    """People and policy."""

    WHERE = "people"
    BINDINGS: ClassVar[list[BindingType]] = [*bindings(WHERE)]
    DEFAULT_CSS = "PeopleScreen OptionList { height: 1fr; }"

    def __init__(self) -> None:
        super().__init__()
        self._people: tuple[tuple[str, tuple[str, ...], str], ...] = ()
        self._policy: Policy | None = None

    def body(self) -> ComposeResult:
        yield OptionList(markup=False)

    def on_mount(self) -> None:
        self.head("people and policy")
        self.query_one(OptionList).focus()

    def refreshed(self) -> None:
        self.ask(lambda: (self.job.people(), self.job.policy()), self._show)

    def action_open(self) -> None:
        """Change the keys of the person, or the part of the policy, under the cursor."""
        at = (self.query_one(OptionList).highlighted or 0) - len(self._people)
        if at == 0:
            self._roles_that_sign()
        elif at == 1:
            self._raise()
        elif at == 2:  # noqa: PLR2004 - the third row of the policy
            self._odds()
        else:
            self._keys()

    @on(OptionList.OptionSelected)
    def row_selected(self) -> None:
        self.action_open()

    def action_new(self) -> None:
        """Enroll a person, in chosen roles, with a key of their own."""
        known = [name for name, _roles, _key in self._people]

        def typed(line: str) -> None:
            fields = person_line(line, known).fields
            text = said(f"enroll {fields['name']} as {', '.join(fields['roles'])}, with a new key?")
            self.window(Confirm(text, "Enroll"), lambda yes: self._key(**fields) if yes else None)

        self.enter(
            "name and roles of the person",
            lambda t: person_line(t, known).reading,
            typed,
            value="" if known else f"{self.fitup.workstation}: {_EVERY_ROLE}",
            replaced=True,
            hint=PERSON.hint,
        )

    def action_roles(self) -> None:
        """Give the person under the cursor other roles, or retire them."""
        at = self.query_one(OptionList).highlighted or 0
        if at >= len(self._people):
            self.tell("put the cursor on a person")
            return
        name, held, _key = self._people[at]

        def take(text: str) -> None:
            line = roles_change_line(text)
            words = said(f"{name}: {line.reading}", "bold")
            self.window(
                Confirm(words, "Change roles"), lambda yes: self._by_a_keeper(by_them) if yes else None
            )

            def by_them(by: str) -> None:
                work = lambda: self.job.change_roles(name, by=by, **line.fields)  # noqa: E731 - one call
                self.ask(work, self.recorded, busy="recording", group="change")

        self.enter(
            f"roles of {name}",
            lambda t: roles_change_line(t).reading,
            take,
            hint=f"{CHANGED_ROLES.hint}; now: {', '.join(held) or 'retired'}",
        )

    def _by_a_keeper(self, then: Callable[[str], None]) -> None:
        """Go on with who signs: the only keeper, who need not be named, or the one who is chosen."""
        if sum(KEEPER in roles for _name, roles, _key in self._people) > 1:
            choose_person(self, "which keeper signs?", "signs", then)
        else:
            then("")

    def _keys(self) -> None:
        """Retire a key of the person under the cursor, add one, or put one in the place of another."""
        at = self.query_one(OptionList).highlighted or 0
        if at < len(self._people):
            name = self._people[at][0]
            self.ask(lambda: self.job.keys(name), lambda lines: change_key(self, name, lines), group=ASIDE)
        else:
            self.tell("put the cursor on a person")

    def _roles_that_sign(self) -> None:
        """Which roles must sign."""
        old = self._policy
        if old is None:
            return

        def take(text: str) -> None:
            self._set(roles_line(text).fields["roles"], old.raised, old.odds)

        title = "required signatures, by role"
        self.enter(title, lambda t: roles_line(t).reading, take, value=", ".join(old.roles), hint=ROLES.hint)

    def _raise(self) -> None:
        old = self._policy
        if old is None:
            return

        def take(text: str) -> None:
            self._set(old.roles, raised_line(text, KIND_OF).fields["raised"], old.odds)

        self.enter(
            "warnings that stop",
            lambda t: raised_line(t, KIND_OF).reading,
            take,
            value=" ".join(old.raised),
            hint=RAISED.hint,
        )

    def _odds(self) -> None:
        old = self._policy
        if old is None:
            return

        def take(text: str) -> None:
            self._set(old.roles, old.raised, read_odds(text))

        self.enter(
            "odds required where holes do not fit with every limit at once",
            lambda t: odds_words(read_odds(t)),
            take,
            value=old.odds,
            hint="a percentage from 50 to 99.9, or worst case: every limit at once",
        )

    def _set(self, roles: tuple[str, ...], raised: tuple[str, ...], odds: str) -> None:
        text = Text("\n").join(
            (
                said(
                    f"must sign: {', '.join(roles)}; warnings that stop: {', '.join(raised) or 'none'}; "
                    f"odds of holes: {odds_words(odds)}",
                    "bold",
                ),
                said("signatures made under another policy become void"),
            )
        )

        def answered(yes: bool | None) -> None:
            if yes:
                self._by_a_keeper(set_by)

        def set_by(by: str) -> None:
            work = lambda: self.job.set_policy(roles=roles, raised=raised, odds=odds, by=by)  # noqa: E731 - one call
            self.ask(work, self.recorded, busy="recording", group="change")

        self.window(Confirm(text, "Set policy"), answered)

    def _key(self, name: str, roles: tuple[str, ...]) -> None:
        def with_key(passphrase: str | None) -> None:
            if passphrase is not None:
                self._by_a_keeper(lambda by: signed_by(by, passphrase))

        def signed_by(by: str, passphrase: str) -> None:
            work = lambda: self.job.enroll(name, roles, passphrase, by=by)  # noqa: E731 - one call
            self.ask(work, enrolled, busy="making a key", group="change")

        def enrolled(key: str) -> None:
            self.refreshed()
            self.tell(f"{name} enrolled as {', '.join(roles)}; key {key[:16]}")

        self.window(Passphrase(name, new=True), with_key)

    def _show(self, value: Any) -> None:
        self._people, policy = value
        self._policy = policy
        rows = [
            f"{name}: {', '.join(roles) or 'retired'}; {f'key {key[:16]}' if key else 'no key in force'}"
            for name, roles, key in self._people
        ]
        rows.append(f"policy: required signatures: {', '.join(policy.roles)}")
        rows.append(f"policy: warnings that stop: {', '.join(policy.raised) or 'none'}")
        rows.append(f"policy: odds required of holes: {odds_words(policy.odds)}")
        listed = self.query_one(OptionList)
        at = listed.highlighted or 0
        listed.clear_options()
        listed.add_options([Option(said(row)) for row in rows])
        listed.highlighted = min(at, len(rows) - 1)
        if not self._people:
            self.tell("nobody is enrolled yet: n enrolls a person")
