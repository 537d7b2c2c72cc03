"""The order in which a key is retired and a new one made: nothing is kept at the workstation unless recorded too."""

from __future__ import annotations

from sqlmodel import Session

from ledger.acts.base import person_named
from ledger.acts.keys import ChangeKey
from ledger.domain.errors import UnknownName
from ledger.release.signer import Signer
from ledger.store.sealed import new_key
from ledger.store.signers import keys_in_force


def change(
    signer: Signer,
    write: Session,
    facts: Session,
    name: str,
    *,
    retires: str,
    new: str | None,
    until: int,
    reason: str,
) -> str:
    """
    Write the signed change in the session `write`, as the journal's `facts` allow; the public half of the key made, if
    one was. Raises BadInput, UnknownName.
    """
    name = person_named(facts, name).name
    gone = _named(keys_in_force(facts, name), retires) if retires else ""
    fields = {"name": name, "retires": gone, "until": until, "reason": reason}
    if new is None:
        signer.append(write, signer.act(facts, ChangeKey, **fields))
        return ""
    signer.act(facts, ChangeKey, adds="0" * 64, **fields)
    with new_key(new) as made:
        signer.append(write, signer.act(facts, ChangeKey, adds=made, **fields))
        signer.store.commit(write)
    return made


def _named(keys: tuple[str, ...], start: str) -> str:
    found = [k for k in keys if k.startswith(start.lower())]
    if len(found) != 1:
        raise UnknownName("key in force", start, [k[:16] for k in keys])
    return found[0]
