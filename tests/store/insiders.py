"""
A forger who has something: the file (or the database as its owner), a workstation's role, or one person's key as well.

`made_in` is a job in which every false fact is known: LUG was locked at A and then, with another drawing, at B; LID has
an open question and no signature. Whoever attacks it may claim what anybody may, and take nothing out of it.
"""

from __future__ import annotations

import json
import secrets
import sqlite3
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from random import Random

from bench_job import PASSPHRASE, Bench, plate_dxf
from forged_locks import forged_lock
from small_job import edit
from sqlalchemy import text
from sqlalchemy.exc import SQLAlchemyError
from test_forged_jobs import altered, written_into_the_schema
from test_forged_jobs import forged_schema as file_schema
from test_server_attacks import forged_schema as server_schema

from ledger.acts.parts import NewRevision
from ledger.acts.questions import AskQuestion
from ledger.domain.canonical import canonical, sha256
from ledger.domain.errors import FitupError
from ledger.domain.program import PROGRAM
from ledger.domain.sealed import row_hash, signed_statement
from ledger.job import Job
from ledger.release.custody import examine
from ledger.store.place import connect
from ledger.store.sealed import make_key, open_key
from ledger.store.tables import FACTS

OLD, NEW, OF_LID, OTHER = (plate_dxf(diameter=d) for d in (13.5, 14.0, 15.0, 17.5))
SIGNED = ("sign_revision", "permit", "lock", "enroll_person", "change_roles", "change_key", "set_policy")
# What nobody but a keeper, or whoever locked, has written; a key's newest one is its person's to change.
THEIR_OWN = ("fact_person", "fact_key", "fact_signature", "fact_permit")
GUARDED = ("fact_job", "fact_lock", "fact_packet", "fact_person", "fact_key", "fact_signature", "fact_permit")


def made_in(folder, clock, place=None):
    """The job, closed again; its place."""
    bench = Bench.started(folder, clock, place=place)
    bench.job.change_roles("Jonas", ("drawn", "checked", "approved"), "keeps nothing")
    bench.plate("LUG", OLD, unconnected=True)
    bench.lock("LUG")
    bench.do(NewRevision, number="LUG", reason="a wider hole")
    bench.job.take_profile("LUG", "LUG.dxf", NEW, by="Mira")
    bench.lock("LUG")
    bench.plate("LID", OF_LID, unconnected=True)
    bench.do(AskQuestion, number="LID", ident="Q1", text="which finish?")
    bench.do(AskQuestion, number="LID", ident="Q2", text="which side up?")
    bench.job.close()
    return bench.place


@dataclass
class World:
    """One copy of that job under attack by somebody who has `who`: file, role or key."""

    place: str
    who: str
    draw: Random
    role: str = ""  # of a server: the address as the restricted role

    def __post_init__(self):
        self.engine = connect(self.role if self.who == "role" else self.place)
        self.on_file = self.engine.dialect.name == "sqlite"
        found = self.rows()
        self.ident = json.loads(found[0][2])["job"]
        self.bodies = [json.loads(row[2]) for row in found]
        self.keys = {}
        for body in self.bodies:
            if body["act"]["kind"] == "enroll_person":
                self.keys[body["act"]["name"]] = body["act"]["adds"]

    def rows(self):
        """The journal: number, previous, body, hash and signature of each row."""
        table = "journal" if self.on_file else "fitup.journal"
        with self.engine.connect() as connection:
            found = connection.execute(
                text(f"SELECT seq, previous, body, hash, signature FROM {table} ORDER BY seq")
            )
            return [[r[0], r[1], bytes(r[2]), r[3], r[4]] for r in found]

    def run(self, script, **values):
        with self.engine.begin() as connection:
            return connection.execute(text(script), values)

    def put(self, row):
        names = ("seq", "previous", "body", "hash", "signature")
        values = dict(zip(names, row, strict=True))
        if self.who == "role":
            self.run("SELECT fitup.add_entry(:seq, :previous, :body, :hash, :signature)", **values)
        else:
            table = "journal" if self.on_file else "fitup.journal"
            self.run(f"INSERT INTO {table} VALUES (:seq, :previous, :body, :hash, :signature)", **values)

    def append(self, act, by, signature=""):
        last = self.rows()[-1]
        said = {"job": self.ident, "seq": last[0] + 1, "at": "2026-03-03T09:00:00Z", "by": by}
        body = canonical({**said, "program": PROGRAM, "act": act})
        self.put([last[0] + 1, last[3], body, row_hash(last[3], body, signature), signature])

    def sign(self, act, by, key=""):
        """Signed as the program signs, with whatever key is at hand."""
        last = self.rows()[-1]
        key = key or self.keys[by]
        whole = {**act, "person": by, "key": key, "nonce": secrets.token_hex(16)}
        whole["seal"] = f"{last[0]}:{last[3]}"
        signature = open_key(key, by, PASSPHRASE).sign(signed_statement(self.ident, whole)).hex()
        self.append(whole, by, signature)

    def rewrite(self, rows):
        """The whole journal anew, every hash made to fit; numbers as they are."""
        previous, new = "0" * 64, []
        for seq, _previous, body, _mark, signature in rows:
            mark = row_hash(previous, body, signature)
            new.append((seq, previous, body, mark, signature))
            previous = mark
        if self.on_file:
            values = (f"({s}, '{p}', x'{b.hex()}', '{m}', '{g}')" for s, p, b, m, g in new)
            edit(self.place, "DELETE FROM journal; INSERT INTO journal VALUES " + ", ".join(values))
            return
        with self.engine.begin() as connection:
            connection.execute(text("SET LOCAL session_replication_role = replica"))
            connection.execute(text("DELETE FROM fitup.journal"))
            for row in new:
                values = dict(zip("abcde", row, strict=True))
                connection.execute(text("INSERT INTO fitup.journal VALUES (:a, :b, :c, :d, :e)"), values)

    def keep(self, data):
        said = {"digest": sha256(data), "data": data}
        if self.who == "role":
            self.run("SELECT fitup.keep_file(:digest, :data)", **said)
        else:
            table = "kept_file" if self.on_file else "fitup.kept_file"
            with suppress(SQLAlchemyError):  # they are kept already
                self.run(f"INSERT INTO {table} VALUES (:digest, :data)", **said)
        return said["digest"]

    def acts(self, *kinds):
        return [b["act"] for b in self.bodies if not kinds or b["act"]["kind"] in kinds]


def claim_altered(w):
    """An entry of the job once more, with something in it changed, unsigned or under a signature of another one."""
    body = w.draw.choice(w.bodies)
    act = altered(body, w.draw).get("act", body["act"])
    signature = w.draw.choice(["", "", w.draw.choice(w.rows())[4], "ab" * 64])
    w.append(act, w.draw.choice(["Mira", "Jonas", "Nobody"]), signature)


def claim_again(w):
    """An entry once more just as it was, or with its person, part or revision changed."""
    body, row = w.draw.choice(list(zip(w.bodies, w.rows(), strict=False)))
    act = {**body["act"]}
    for name, other in (
        ("number", ("LUG", "LID")),
        ("person", ("Mira", "Jonas")),
        ("name", ("LUG", "Jonas")),
    ):
        if name in act and w.draw.random() < 0.5:
            act[name] = w.draw.choice(other)
    w.append(act, body["by"], row[4])


def stranger(w):
    """Somebody enrolls themselves, or founds the job again, and locks or signs."""
    key = make_key(PASSPHRASE)
    act = {**w.acts("enroll_person")[0], "name": "Nobody", "adds": key}
    w.keys["Nobody"] = key
    w.sign(act, "Nobody", key)
    if w.draw.random() < 0.7:
        w.sign(w.draw.choice(w.acts("lock", "sign_revision")), "Nobody", key)


def undo_more(w):
    """A counter-act that takes away, or brings back, rows of one's choice."""
    tables = [t for t in FACTS if w.draw.random() < 0.3]
    with w.engine.connect() as connection:
        rows = []
        for table in tables:
            name = table.__tablename__ if w.on_file else f"fitup.{table.__tablename__}"
            found = connection.execute(text(f"SELECT * FROM {name}")).mappings().all()
            rows += [{"table": table.__tablename__, "row": dict(r)} for r in found]
    rows = json.loads(json.dumps(rows, default=str))
    w.draw.shuffle(rows)
    cut = w.draw.randint(0, len(rows))
    about = {
        "undoes": w.draw.randint(1, len(w.bodies)),
        "about": "part",
        "name": w.draw.choice(["LUG", "LID"]),
    }
    act = {"kind": "undo", "version": 1, **about, "gone": rows[:cut][:3], "back": rows[cut:][:3]}
    w.append(act, w.draw.choice(["Mira", "Jonas"]))


def packet_again(w):
    """Another packet for a lock, or the kept one under another name."""
    act = {**w.draw.choice(w.acts("keep_packet"))}
    act["sha256"] = w.keep(secrets.token_bytes(40))
    if w.draw.random() < 0.3:
        act["file_name"] = "../../elsewhere.zip"
    w.append(act, "Jonas")


def set_aside(w):
    """A row that following the journal sets aside, of any kind, signed or not: of another job, or in another shape."""
    body = w.draw.choice(w.bodies)
    act = {**body["act"]}
    how = w.draw.choice(("other job", "other shape", "opening", "undo"))
    if how == "opening":
        act = {**w.acts("open_job")[0], "roles": [["drawn"], []][w.draw.random() < 0.3]}
    elif how == "undo":
        act = {"kind": "undo", "version": 1, "undoes": w.draw.randint(1, len(w.bodies))}
    elif how == "other shape":
        act |= {"something": "more"}
    was = w.ident
    w.ident = "another job" if how == "other job" else was
    try:
        w.append(act, w.draw.choice(["Mira", "Jonas"]), w.draw.choice(["", w.draw.choice(w.rows())[4]]))
    finally:
        w.ident = was


def older_again(w):
    """What the journal says of a part, said otherwise: another drawing, a new revision, an answer. All are claims."""
    drawing = w.keep(w.draw.choice([OLD, NEW, OTHER]))
    number = w.draw.choice(["LUG", "LID"])
    taken = {**w.acts("take_profile")[-1], "number": number, "dxf": drawing}
    w.draw.choice(
        (
            lambda: w.append(taken, "Mira"),
            lambda: w.append({**w.acts("new_revision")[0], "number": number}, "Mira"),
            lambda: w.append(
                {"kind": "answer_question", "version": 1, "number": "LID", "ident": "Q1", "answer": "zinc"},
                "Mira",
            ),
        )
    )()


def facts_written_over(w):
    """Rows of the fact tables taken out, put in or written over."""
    of = "" if w.on_file else "fitup."
    part = w.draw.choice(["'LUG'", "'LID'"])
    script = w.draw.choice(
        (
            f"DELETE FROM {of}fact_question",
            f"UPDATE {of}fact_question SET answer = 'zinc'",
            f"DELETE FROM {of}fact_lock WHERE revision = 'B'",
            f"UPDATE {of}fact_lock SET number = 'LID', revision = 'A' WHERE revision = 'B'",
            f"UPDATE {of}fact_lock SET dxf = '{sha256(OTHER)}' WHERE revision = 'B'",
            f"UPDATE {of}fact_profile SET dxf = '{sha256(OTHER)}' WHERE number = {part}",
            f"DELETE FROM {of}fact_part WHERE number = 'LUG' AND revision = 'B'",
            f"UPDATE {of}fact_part SET locked = NOT locked WHERE number = {part}",
            f"UPDATE {of}fact_job SET roles = '[]'",
            f'UPDATE {of}fact_person SET roles = \'["keeper", "drawn", "checked"]\'',
            f"UPDATE {of}fact_packet SET sha256 = '{'0' * 64}'",
            f"DELETE FROM {of}fact_signature",
            f"UPDATE {of}fact_signature SET number = 'LID', revision = 'A' WHERE revision = 'B'",
            f"UPDATE {of}fact_key SET person = 'Jonas'",
            f"DELETE FROM {of}fact_nonce",
            f"UPDATE {of}fact_stamp SET seq = seq - 1",
        )
    )
    w.run(script)


def history_rewritten(w):
    """An entry anywhere altered, dropped, doubled or put elsewhere, and every hash made to fit."""
    rows, at = w.rows(), w.draw.randrange(len(w.bodies))
    how = w.draw.choice(("alter", "alter", "drop", "double", "move", "sign"))
    if how == "alter":
        rows[at][2] = canonical(altered(w.bodies[at], w.draw))
    elif how == "drop":
        del rows[at]
    elif how == "double":
        rows.insert(at, list(rows[at]))
    elif how == "move":
        rows.insert(w.draw.randrange(len(rows)), rows.pop(at))
    else:
        rows[at][4] = w.draw.choice(rows)[4]
    if how in ("drop", "double", "move"):
        for seq, row in enumerate(rows, 1):
            body = json.loads(row[2])
            row[0], row[2] = seq, canonical({**body, "seq": seq})
    w.rewrite(rows)


def kept_swapped(w):
    """The bytes of a kept file under the digest of another."""
    digest = sha256(w.draw.choice([OLD, NEW, OF_LID]))
    if w.on_file:
        edit(w.place, f"UPDATE kept_file SET data = x'{OTHER.hex()}' WHERE sha256 = '{digest}'")
        return
    with w.engine.begin() as connection:
        connection.execute(text("SET LOCAL session_replication_role = replica"))
        values = {"data": OTHER, "digest": digest}
        connection.execute(text("UPDATE fitup.kept_file SET data = :data WHERE sha256 = :digest"), values)


def schema_altered(w):
    """Something in the schema that the program did not make, such as would run, hide rows or lead look-ups astray."""
    if not w.on_file:
        import psycopg

        with psycopg.connect(w.place.replace("+psycopg", ""), autocommit=True) as raw:
            raw.execute("SET search_path = fitup, public")
            raw.execute(server_schema(raw, w.draw))
        return
    written_into_the_schema(w.place, file_schema(w.place, w.draw))


def signed_altered(w):
    """A signed entry of anybody's with something in it changed, signed soundly by the insider."""
    body = w.draw.choice([b for b in w.bodies if b["act"]["kind"] in SIGNED])
    w.sign(altered(body, w.draw).get("act", body["act"]), "Jonas")


def signed_again(w):
    """A signed entry of anybody's as the insider's own: for another part, in another role, with another key to add."""
    act = {**w.draw.choice(w.acts(*SIGNED))}
    if act["kind"] == "sign_revision":
        act["role"] = w.draw.choice(["drawn", "checked", "approved", "keeper"])
    if "adds" in act or act["kind"] == "change_roles":
        act |= {"name": w.draw.choice(["Mira", "Jonas", "Nobody"])}
        act |= {"adds": make_key(PASSPHRASE)} if "adds" in act else {"roles": ["keeper", "drawn", "checked"]}
    w.sign(act, "Jonas")


def takes_over(w):
    """Makes themselves keeper, adds a key of theirs to a keeper, or lowers what must sign; and goes on from there."""
    key, fresh = make_key(PASSPHRASE), {"version": 1, "reason": "so it goes"}
    w.draw.choice(
        (
            lambda: w.sign(
                {"kind": "change_roles", "name": "Jonas", "roles": ["keeper", "drawn"], **fresh}, "Jonas"
            ),
            lambda: w.sign(
                {"kind": "change_key", "name": "Mira", "adds": key, "retires": "", "until": 0, **fresh},
                "Jonas",
            ),
            lambda: w.sign(
                {
                    "kind": "set_policy",
                    "version": 2,
                    "roles": ["drawn"],
                    "raised": [],
                    "odds": "99",
                    "permits": ["drawn"],
                },
                "Jonas",
            ),
            lambda: w.sign({**w.acts("enroll_person")[-1], "name": "Nobody", "adds": key}, "Jonas"),
        )
    )()
    w.sign(w.draw.choice(w.acts("lock", "sign_revision")), "Mira" if w.draw.random() < 0.5 else "Jonas", key)


def lock_past_the_rules(w):
    """A lock with its packet, made as the program makes them but asked nothing: of LID, or of LUG with a drawing."""
    bench = Bench(Path(w.place).parent, None, w.place)
    with Job(w.place, lambda _name: PASSPHRASE) as job:
        bench.job = job
        number = w.draw.choice(["LID", "LID", "LUG"])
        if w.draw.random() < 0.5:
            (now,) = job.verdicts([number])
            good = {**now.to_json(), "verdict": "GO", "findings": [], "stops": []}
            said = w.draw.choice([None, good])
        else:
            said = None
        part = w.draw.choice(
            [None, None, {"dxf": sha256(OTHER)}, {"revision": "A"}, {"dxf_name": "../x.dxf"}]
        )
        drawing = w.draw.choice([None, None, OTHER, OLD])
        keep, proof, signs = w.draw.random() < 0.9, w.draw.random() < 0.9, w.draw.random() < 0.4
        if w.draw.random() < 0.5:  # all as it should be, but for what was done to the job before
            (now,) = job.verdicts([number])
            said = {**now.to_json(), "verdict": "GO", "findings": [], "stops": []}
            part = drawing = None
            keep = proof = signs = True
        if signs:  # and signs in both roles, as one person
            for role in ("drawn", "checked"):
                act = {**w.acts("sign_revision")[0], "role": role}
                subject = {"number": number, "revision": job.part(number).revision, "acknowledged": []}
                (judged,) = job.verdicts([number])
                w.sign({**act, "subjects": [{**subject, "subject": judged.subject}]}, "Jonas")
        forged_lock(bench, number, part=part, verdict=said, drawing=drawing, keep=keep, proof=proof)


KEYLESS = (
    claim_altered,
    claim_again,
    stranger,
    undo_more,
    packet_again,
    older_again,
    facts_written_over,
    set_aside,
)
AT_THE_FILE = (*KEYLESS, history_rewritten, kept_swapped, schema_altered)
WITH_A_KEY = (signed_altered, signed_again, takes_over, lock_past_the_rules)
MEANS = {"role": KEYLESS, "file": AT_THE_FILE, "key": (*WITH_A_KEY, *WITH_A_KEY, *AT_THE_FILE, set_aside)}


def refused(work, *args):
    """Whether something cannot be done, and is said in words: nothing but our own refusals."""
    try:
        found = work(*args)
    except FitupError:
        return True
    return found


def false_facts(place, folder, clock, before):
    """Everything false that a job lets out: nothing, if the program holds."""
    sent = folder / "sent"
    sent.mkdir(exist_ok=True)
    try:
        with Job(place, lambda _name: PASSPHRASE, clock) as job:
            return [*_false_drawings(job, sent), *_false_locks(job, folder / "out", before)]
    except FitupError:
        return []


def _false_drawings(job, sent):
    for name, data in (("superseded", OLD), ("not released", OF_LID), ("strange", OTHER)):
        if (at := refused(job.stands, data)) is not True and at.current:
            yield f"verify FILE takes the {name} drawing for current"
        (sent / "LUG.dxf").write_bytes(data)
        if (at := refused(job.guard, sent)) is not True and at.may_go:
            yield f"guard lets the {name} drawing go"


def _false_locks(job, out, before):
    if (at := refused(job.packet, "LUG")) is not True and at[1] != before["packet"]:
        yield "another packet of LUG is handed out"
    if refused(job.packet, "LID") is not True:
        yield "a packet of LID is handed out"
    if (at := refused(job.verdicts, ["LID"])) is not True and at[0].go:
        yield "LID is GO"
    for person in ("Jonas", "Mira"):
        if refused(job.lock, ("LID",), person, out) is not True:
            yield f"LID is locked by {person}"


def guarded(place):
    """What only a keeper, a signature or a lock may change, as the tables hold it."""
    engine = connect(place)
    of = "" if engine.dialect.name == "sqlite" else "fitup."
    with engine.connect() as connection:
        found = {
            t: {tuple(map(str, r)) for r in connection.execute(text(f"SELECT * FROM {of}{t}"))}
            for t in GUARDED
        }
    engine.dispose()
    return found


def whole(place, since=""):
    """What `verify` says: nothing, or the code of the first stop."""
    try:
        found = examine(place, since=since)
    except FitupError as told:
        return type(told).__name__
    return next((f.code for f in found.problems if f.severity == "stop"), "")


def what_became_of(world, folder, clock, before):
    """
    How an attack ended, in one word: what found it, or that only claims were made. Raises AssertionError where it won.

    Facts that are behind the journal are brought up to it before, as by anybody who opens the job.
    """
    with suppress(FitupError):
        Job(world.place, lambda _name: PASSPHRASE, clock).close()
    code = whole(world.place)
    changed = [] if code else other_rows(world, before["guarded"], guarded(world.place))
    assert not changed, f"whole, with other rows in {', '.join(changed)}"
    found = false_facts(world.place, folder, clock, before)
    assert not found, "; ".join(found)
    return code or ("found by the noted seal" if whole(world.place, before["seal"]) else "claims")


def other_rows(world, was, now):
    """The tables that are not as they were; what is somebody's own to sign, one who has their key may add."""
    if world.who != "key":
        return [t for t in GUARDED if now[t] != was[t]]
    of_others = {t: {r for r in was[t] if "Jonas" not in r} for t in THEIR_OWN}
    still = {t: {r for r in now[t] if "Jonas" not in r} for t in THEIR_OWN}
    return [t for t in GUARDED if (still[t] != of_others[t] if t in THEIR_OWN else now[t] != was[t])]


def _of_the_server():
    try:
        import psycopg
    except ImportError:
        return ()
    return (psycopg.Error,)


def attacked(world):
    """One to three things done to it; their names. A step that its database refuses is left out."""
    done = []
    for step in world.draw.sample(MEANS[world.who], world.draw.randint(1, 3)):
        try:
            step(world)
        except (FitupError, ValueError, TypeError, KeyError, AttributeError) as no:
            done.append(f"{step.__name__}: refused ({type(no).__name__})")
        except (sqlite3.Error, SQLAlchemyError, *_of_the_server()) as no:
            done.append(f"{step.__name__}: refused ({type(no).__name__})")
        else:
            done.append(step.__name__)
    world.engine.dispose()
    return done


def as_it_was(place, clock):
    """What is remembered of the job before anybody attacked it."""
    with Job(place, lambda _name: PASSPHRASE, clock) as job:
        packet, seal = job.packet("LUG")[1], job.seal()
    return {"packet": packet, "seal": f"{seal[0]}:{seal[1]}", "guarded": guarded(place)}
