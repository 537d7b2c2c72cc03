"""Somebody who writes rows into a job's file without the program."""

from __future__ import annotations

import secrets

from bench_job import PASSPHRASE
from sqlalchemy import insert

from ledger.domain.canonical import canonical, sha256
from ledger.domain.program import PROGRAM
from ledger.domain.sealed import row_hash, signed_statement
from ledger.store.replay import seal_of
from ledger.store.sealed import open_key
from ledger.store.tables import JournalRow, KeptFileRow


class Forger:
    """Writes behind the last entry of a job without the program; with a person's key where one is named."""

    def __init__(self, bench):
        self.bench = bench
        self.engine = bench.job.store.engine
        self.ident = bench.job.ident

    def last(self):
        with self.bench.job.store.reading() as facts:
            return seal_of(facts)

    def row(self, body, signature=""):
        seq, previous = self.last()
        new = {"seq": seq + 1, "previous": previous, "body": body, "signature": signature}
        with self.engine.begin() as connection:
            connection.execute(insert(JournalRow), [{**new, "hash": row_hash(previous, body, signature)}])
        return seq + 1

    def keep(self, data):
        with self.engine.begin() as connection:
            connection.execute(insert(KeptFileRow), [{"sha256": sha256(data), "data": data}])
        return sha256(data)

    def entry(self, act, by="Mira", signature="", at="2026-03-03T09:00:00Z", program=PROGRAM):
        said = {"job": self.ident, "seq": self.last()[0] + 1, "at": at, "by": by, "program": program}
        return self.row(canonical({**said, "act": act}), signature)

    def signed(self, act, by, key=""):
        seq, seal = self.last()
        key = key or next(k for name, _roles, k in self.bench.job.people() if name == by)
        act = {**act, "person": by, "key": key, "nonce": secrets.token_hex(16), "seal": f"{seq}:{seal}"}
        signature = open_key(key, by, PASSPHRASE).sign(signed_statement(self.ident, act)).hex()
        return self.entry(act, by, signature)

    def act(self, kind):
        """The newest act of a kind, to be written otherwise."""
        return next(e.act for e in reversed(list(self.bench.job.journal())) if e.kind == kind)
