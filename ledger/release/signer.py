"""
Who signs: the keys that are open at this workstation, and one person with theirs.

A *sitting* is the time a job is open: a passphrase is asked for once in it.
"""

from __future__ import annotations

import secrets
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from sqlmodel import Session

from ledger.acts.base import make
from ledger.acts.release import Signed
from ledger.domain.errors import BadInput, visible
from ledger.domain.sealed import Sealed, signed_statement
from ledger.store.journal import Store
from ledger.store.replay import seal_of
from ledger.store.sealed import is_here, open_key

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

Passphrase = Callable[[str], str]


@dataclass
class Sitting:
    """Keys opened in this sitting, so that a passphrase is asked once. `ask` gets the person's name."""

    ask: Passphrase

    def __post_init__(self) -> None:
        self._keys: dict[str, Ed25519PrivateKey] = {}

    def key(self, name: str, keys: Sequence[str]) -> tuple[str, Ed25519PrivateKey]:
        """
        The first of a person's keys that is at this workstation: its public half, and the private one, opened once.

        Raises BadInput: no key in force, none at this workstation, or a wrong passphrase.
        """
        if not keys:
            raise BadInput(
                f"{visible(name)} has no key in force any more; add one: fitup key {visible(name)} --add"
            )
        public = next((k for k in keys if is_here(k)), keys[0])
        if public not in self._keys:
            self._keys[public] = open_key(public, name, self.ask(name))
        return public, self._keys[public]

    def opened(self, public: str, name: str, passphrase: str) -> None:
        """Open a key that was made in this sitting, so that its passphrase is not asked again. Raises BadInput."""
        self._keys[public] = open_key(public, name, passphrase)


@dataclass(frozen=True)
class Signer:
    """Someone about to sign: fills in what every signed act carries and appends it with a signature."""

    store: Store
    job: str
    person: str
    public: str
    key: Ed25519PrivateKey

    def act(self, facts: Session, kind: type[Signed], **fields: Any) -> Signed:
        """The act, checked against the facts, not yet written."""
        seq, seal = seal_of(facts)
        common = {
            "person": self.person,
            "key": self.public,
            "nonce": secrets.token_hex(16),
            "seal": f"{seq}:{seal}",
        }
        act = make(kind, **common, **fields)
        act.check(facts)
        return act

    def append(self, facts: Session, act: Signed) -> Sealed:
        """Write the act with its signature."""
        body = act.model_dump(mode="json")
        signature = self.key.sign(signed_statement(self.job, body)).hex()
        return self.store.append(facts, job=self.job, by=self.person, act=body, signature=signature)
