"""
A counter over every call to the database and the disk: the n-th fails, by an error or by ending the process.

`Fault(n)` counts while it is entered; `Fault(0)` only counts. What is counted: every statement and commit of SQLite's
driver, and every call of `os` that the program writes files with.
"""

from __future__ import annotations

import errno
import os
import signal
import sqlite3

import pytest

FILE_CALLS = ("open", "write", "fsync", "replace", "rename", "mkdir", "unlink")


class Fault:
    """`kill` True ends the process with SIGKILL at the n-th call; else that call raises `error`."""

    def __init__(self, n, *, kill=False, only_writing=False, said="disk I/O error", number=errno.EIO):
        self.n, self.kill, self.only_writing = n, kill, only_writing
        self.said, self.number = said, number
        self.count, self.struck = 0, ""
        self.patch = pytest.MonkeyPatch()

    def __enter__(self):
        fault = self

        class Cursor(sqlite3.Cursor):
            def execute(self, sql, *args):
                fault.database(sql)
                return super().execute(sql, *args)

            def executemany(self, sql, *args):
                fault.database(sql)
                return super().executemany(sql, *args)

        class Connection(sqlite3.Connection):
            def cursor(self, factory=Cursor):
                return super().cursor(factory)

            def commit(self):
                fault.database("COMMIT")
                super().commit()

        real = sqlite3.connect
        self.patch.setattr(sqlite3, "connect", lambda *a, **k: real(*a, **{**k, "factory": Connection}))
        self.patch.setattr(sqlite3.dbapi2, "connect", sqlite3.connect)
        for name in FILE_CALLS:
            self.patch.setattr(os, name, self.counted(name, getattr(os, name)))
        return self

    def __exit__(self, *_):
        self.patch.undo()

    def counted(self, name, real):
        def call(*args, **kwargs):
            if self.hit(f"os.{name}"):
                raise OSError(self.number, os.strerror(self.number))
            return real(*args, **kwargs)

        return call

    def database(self, sql):
        writing = not sql.lstrip().upper().startswith(("SELECT", "PRAGMA"))
        if (writing or not self.only_writing) and self.hit(sql):
            raise sqlite3.OperationalError(self.said)

    def hit(self, what):
        self.count += 1
        if self.count != self.n:
            return False
        self.struck = what
        if self.kill:
            os.kill(os.getpid(), signal.SIGKILL)
        return True


def forked(work):
    """Run `work` in a process of its own: its exit code, negative for the signal that ended it."""
    child = os.fork()
    if child == 0:
        code = 99
        try:
            code = work() or 0
        finally:
            os._exit(code)
    _, status = os.waitpid(child, 0)
    return os.waitstatus_to_exitcode(status)


def forked_all(works):
    """Run each of these in a process of its own, all at once: their exit codes."""
    children = []
    for work in works:
        child = os.fork()
        if child == 0:
            code = 99
            try:
                code = work()
            finally:
                os._exit(code)
        children.append(child)
    return [os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) for child in children]
