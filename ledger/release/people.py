"""The order in which somebody is enrolled: no key is kept at the workstation unless it is recorded too."""

from __future__ import annotations

from sqlmodel import Session

from ledger.acts.people import EnrollPerson
from ledger.domain.names import name_text
from ledger.domain.record import KEEPER
from ledger.release.signer import Signer
from ledger.store.journal import Store
from ledger.store.sealed import new_key, open_key


def enroll(
    facts: Session, at: tuple[Store, str], signer: Signer | None, named: tuple[str, tuple[str, ...]], new: str
) -> str:
    """
    Make a key with the passphrase `new`, write the signed enrolment and commit it; the public half.

    `at`: the store and the identity of its job; `named`: the person and their roles. Without a signer the person
    founds the job: its keeper, who signs with the key just made. Raises BadInput.
    """
    store, job = at
    name, roles = name_text(named[0]), named[1]
    roles = tuple(dict.fromkeys(roles if signer else (*roles, KEEPER)))
    if signer:  # everything that can be refused is, before there is a key
        signer.act(facts, EnrollPerson, name=name, adds="0" * 64, roles=roles)
    with new_key(new) as key:
        by = signer or Signer(store, job, name, key, open_key(key, name, new))
        by.append(facts, by.act(facts, EnrollPerson, name=name, adds=key, roles=roles))
        store.commit(facts)
    return key
