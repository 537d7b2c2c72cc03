"""Keys come and go; what was signed with them earlier stays good, and a person with two keys is one person."""

from __future__ import annotations

import json
import sqlite3

import pytest
from bench_job import PASSPHRASE

from ledger.acts.base import make
from ledger.acts.keys import ChangeKey
from ledger.acts.release import SignRevision, SubjectField
from ledger.cli import main
from ledger.domain.canonical import canonical
from ledger.domain.errors import BadInput, NotReleasable, Tampered, UnknownName
from ledger.domain.sealed import row_hash, signed_statement
from ledger.release.custody import examine
from ledger.store.sealed import keys_folder, make_key, new_key, open_key

BOTH = ("BASE", "TURN")
WHY = {"reason": "the laptop was lost"}


def key_of(bench, name):
    return bench.job.keys(name)[-1].key


def replace(bench, name="Jonas", *, by="Mira", **more):
    return bench.job.change_key(name, retires=key_of(bench, name)[:12], new=PASSPHRASE, by=by, **WHY, **more)


@pytest.mark.both
def test_a_replaced_key_leaves_earlier_signatures_good(bench):
    bench.sign_all(*BOTH)
    made = replace(bench)
    assert all(v.go for v in bench.job.verdicts(BOTH))
    assert [k.in_force for k in bench.job.keys("Jonas")] == [False, True]
    assert bench.job.people()[0][2] == made
    bench.job.lock(BOTH, "Jonas", bench.folder / "out")
    assert bench.job.verify() == ()


def test_a_retired_key_signs_nothing_more(bench):
    bench.job.change_key("Jonas", retires=key_of(bench, "Jonas"), by="Mira", **WHY)
    with pytest.raises(BadInput, match="no key in force"):
        bench.job.sign(BOTH, "checked", "Jonas", {})
    made = bench.job.change_key("Jonas", new=PASSPHRASE, by="Mira", **WHY)
    assert bench.job.people()[0][2] == made
    bench.sign_all(*BOTH)
    assert all(v.go for v in bench.job.verdicts(BOTH))


def test_a_key_in_wrong_hands_is_retired_from_an_earlier_entry_on(bench):
    bench.sign_all(*BOTH)
    signed = bench.job.journal()
    entry = next(e.seq for e in signed if e.kind == "sign_revision" and e.by == "Jonas")
    replace(bench, until=entry)
    assert "role_missing" in bench.codes("BASE")
    assert bench.job.keys("Jonas")[0].disowned == (entry,)
    with pytest.raises(NotReleasable):
        bench.job.lock(BOTH, "Jonas", bench.folder / "out")
    bench.job.sign(BOTH, "checked", "Jonas", {})
    assert all(v.go for v in bench.job.verdicts(BOTH))
    assert bench.job.verify() == ()


def test_a_key_in_wrong_hands_takes_those_with_it_that_were_added_with_it(bench):
    """The thief gives Jonas a key of their own, and Mira another one with that; both go with the stolen one."""
    bench.job.change_roles("Jonas", ("drawn", "checked", "approved", "keeper"), "two keepers")
    stolen, before = key_of(bench, "Jonas"), bench.job.seal()[0]
    mine = bench.job.change_key("Jonas", new=PASSPHRASE, by="Mira", **WHY)
    (keys_folder() / f"{mine}.pem").rename(bench.folder / "mine.pem")
    thiefs = bench.job.change_key("Jonas", new=PASSPHRASE, by="Jonas", **WHY)
    entry = bench.job.seal()[0]
    (keys_folder() / f"{stolen}.pem").rename(bench.folder / "elsewhere.pem")
    bench.job.sitting._keys.clear()
    other = bench.job.change_key("Mira", new=PASSPHRASE, by="Jonas", **WHY)
    bench.job.sign(BOTH, "checked", "Jonas", {})
    assert "checked" in {s.role for v in bench.job.verdicts(BOTH) for s in v.signed}
    bench.job.change_key("Jonas", retires=stolen, until=before, by="Mira", **WHY)
    assert {k.key for k in bench.job.keys_that_went()} == {stolen, thiefs, other}
    standing = {k.key: (k.in_force, k.until) for name in ("Mira", "Jonas") for k in bench.job.keys(name)}
    assert standing[stolen] == (False, before)
    assert standing[thiefs] == (False, entry)
    assert standing[other] == (False, entry + 1)
    assert standing[mine] == (True, 0)
    assert {name: key for name, _roles, key in bench.job.people()}["Jonas"] == mine
    assert not [s for v in bench.job.verdicts(BOTH) for s in v.signed]
    (bench.folder / "mine.pem").rename(keys_folder() / f"{mine}.pem")
    bench.sign_all(*BOTH)
    assert all(v.go for v in bench.job.verdicts(BOTH))
    assert bench.job.verify() == ()


def test_the_last_key_is_not_retired_with_those_that_were_added_with_it(bench):
    bench.job.change_roles("Jonas", ("drawn", "checked", "approved", "keeper"), "two keepers")
    stolen, since = key_of(bench, "Jonas"), bench.job.seal()[0]
    bench.job.change_key("Mira", retires=key_of(bench, "Mira"), new=PASSPHRASE, by="Jonas", **WHY)
    with pytest.raises(BadInput, match="that is the last key"):
        bench.job.change_key("Jonas", retires=stolen, until=since, by="Mira", **WHY)


@pytest.mark.parametrize("entry", [1, 10_000])
def test_a_key_is_not_retired_from_before_it_was_known_or_from_the_future(bench, entry):
    with pytest.raises(BadInput, match="cannot be retired from entry"):
        replace(bench, until=entry)


def test_one_person_with_two_keys_counts_once(bench):
    first = key_of(bench, "Mira")
    bench.job.sign(BOTH, "drawn", "Mira", {})
    second = bench.job.change_key("Mira", new=PASSPHRASE, by="Mira", **WHY)
    (keys_folder() / f"{first}.pem").rename(bench.folder / "other-workstation.pem")
    bench.job.sitting._keys.clear()
    bench.job.sign(BOTH, "checked", "Mira", {})
    (verdict,) = bench.job.verdicts(["BASE"])
    assert {s.person for s in verdict.signed} == {"Mira"}
    assert [s.where for s in verdict.stops if s.code == "role_missing"] == ["checked"]
    assert [k.in_force for k in bench.job.keys("Mira")] == [True, True]
    assert {e.act.get("key") for e in bench.job.journal() if e.kind == "sign_revision"} == {first, second}
    assert bench.job.policy().people == 2


def test_a_key_is_nobody_elses_not_even_a_retired_one(bench):
    old = key_of(bench, "Jonas")
    replace(bench)
    for key in (old, key_of(bench, "Jonas")):
        with pytest.raises(BadInput, match="somebody's already"):
            _adds(bench, key)


def _adds(bench, key):
    signer = bench.job._signer("Mira")
    with bench.job.store.writing() as facts:
        signer.append(facts, signer.act(facts, ChangeKey, name="Mira", adds=key, **WHY))


def test_a_change_of_keys_has_no_way_around_its_signature(bench):
    act = make(
        ChangeKey, name="Mira", person="Mira", key="0" * 64, nonce="0" * 32, seal=f"1:{'0' * 64}", **WHY
    )
    with pytest.raises(BadInput, match="signed act"):
        bench.job.do(act, by="Mira")


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"retires": "ffff"}, "no key in force"),
        ({"retires": ""}, "neither a key"),
        ({"name": "Nobody", "new": "x"}, "no person"),
        ({"new": ""}, "empty passphrase"),
        ({"new": "x", "reason": " "}, "needs a reason"),
    ],
)
def test_a_change_of_keys_that_cannot_be_is_refused_and_leaves_no_key(bench, change, told):
    keys, entries = sorted(keys_folder().iterdir()), len(list(bench.job.journal()))
    with pytest.raises((BadInput, UnknownName), match=told):
        bench.job.change_key(**{"name": "Jonas", "by": "Mira", **WHY, **change})
    assert sorted(keys_folder().iterdir()) == keys
    assert len(list(bench.job.journal())) == entries


def test_the_last_key_of_a_job_is_replaced_not_retired(bench):
    bench.job.change_key("Jonas", retires=key_of(bench, "Jonas"), by="Mira", **WHY)
    with pytest.raises(BadInput, match="last key"):
        bench.job.change_key("Mira", retires=key_of(bench, "Mira"), by="Mira", **WHY)
    replace(bench, "Mira")
    bench.job.sign(BOTH, "drawn", "Mira", {})


def forge(bench, seq, **changed):
    """Write entry `seq` behind the last one again, with a chain that holds, as an attacker at the file would."""
    bench.job.close()
    raw = sqlite3.connect(bench.place)
    last, previous = raw.execute("SELECT seq, hash FROM journal ORDER BY seq DESC LIMIT 1").fetchone()
    body, signature = raw.execute("SELECT body, signature FROM journal WHERE seq = ?", (seq,)).fetchone()
    whole = json.loads(body)
    body = canonical({**whole, "seq": last + 1, "act": {**whole["act"], **changed}})
    row = (last + 1, previous, body, row_hash(previous, body, signature), signature)
    raw.execute("INSERT INTO journal VALUES (?, ?, ?, ?, ?)", row)
    raw.commit()
    raw.close()
    return last + 1


@pytest.mark.both
@pytest.mark.file_only
@pytest.mark.parametrize("changed", [{"name": "Jonas"}, {"name": "Eve"}])
def test_nobody_is_enrolled_a_second_time_by_writing_to_the_file(bench, changed):
    """Another key for Jonas, or the key of Mira for somebody else, appended with a chain that holds."""
    first = next(e for e in bench.job.journal() if e.kind == "enroll_person")
    key = "a" * 64 if changed["name"] == "Jonas" else first.act["key"]
    entry = forge(bench, first.seq, **changed, adds=key, nonce="1" * 32)
    with pytest.raises(Tampered, match=f"entry {entry} "):
        bench.reopen().sign(BOTH, "drawn", "Mira", {})
    assert ("signature_bad", f"entry {entry}") in {(f.code, f.where) for f in examine(bench.place).problems}


@pytest.mark.file_only
def test_a_change_of_keys_that_nobody_signed_gives_nobody_a_key(bench):
    """A true change is written again behind the last entry, for a key that the forger has."""
    bench.job.change_key("Mira", new=PASSPHRASE, by="Mira", **WHY)
    change = bench.job.seal()[0]
    mine = make_key(PASSPHRASE)
    entry = forge(bench, change, name="Jonas", adds=mine, nonce="1" * 32)
    bench.reopen()
    assert mine not in {k.key for k in bench.job.keys("Jonas")}
    assert ("signature_bad", f"entry {entry}") in {(f.code, f.where) for f in bench.job.verify()}


@pytest.mark.both
@pytest.mark.file_only
def test_a_signature_put_in_a_second_time_is_not_followed_and_is_named(bench):
    bench.sign_all(*BOTH)
    entry = forge(bench, next(e.seq for e in bench.job.journal() if e.kind == "sign_revision"))
    with pytest.raises(Tampered, match=f"entry {entry} .*recorded already"):
        bench.reopen().lock(BOTH, "Jonas", bench.folder / "out")
    said = {(f.code, f.where) for f in examine(bench.place).problems}
    assert ("signature_replayed", f"entry {entry}") in said


def test_a_sound_signature_with_a_key_that_was_nobodys_is_not_written(bench):
    with new_key(PASSPHRASE) as key:
        pass
    private = open_key(key, "Mira", PASSPHRASE)
    subject = SubjectField(number="BASE", revision="A", subject="a" * 64)
    fields = {"role": "drawn", "meaning": "mine", "subjects": (subject,), "nonce": "2" * 32}
    act = make(SignRevision, person="Mira", key=key, seal=":".join(map(str, bench.job.seal())), **fields)
    body = act.model_dump(mode="json")
    signature = private.sign(signed_statement(bench.job.ident, body)).hex()
    with pytest.raises(BadInput, match="no key Mira signs with"), bench.job.store.writing() as facts:
        bench.job.store.append(facts, job=bench.job.ident, by="Mira", act=body, signature=signature)
    assert bench.job.verify() == ()
    assert "role_missing" in bench.codes("BASE")


@pytest.mark.file_only
def test_a_sign_off_under_another_nonce_without_its_signature_counts_for_nothing(bench):
    bench.job.sign(BOTH, "drawn", "Jonas", {})
    entry = forge(bench, bench.job.news(0)[0], role="checked", nonce="1" * 32)
    bench.reopen()
    with pytest.raises(Tampered, match="the signature does not hold"):
        bench.job.verdicts(["BASE"])
    assert ("signature_bad", f"entry {entry}") in {(f.code, f.where) for f in bench.job.verify()}


@pytest.mark.file_only
def test_a_lock_put_in_a_second_time_locks_no_later_revision(bench):
    bench.lock(*BOTH)
    lock = next(e.seq for e in bench.job.journal() if e.kind == "lock")
    from ledger.acts.parts import NewRevision

    bench.do(NewRevision, number="BASE", reason="wider")
    forge(bench, lock, nonce="1" * 32)
    assert not bench.reopen().part("BASE").locked
    assert "signature_bad" in {f.code for f in bench.job.verify()}


def test_keys_on_the_command_line(bench, capsys, monkeypatch):
    (bench.folder / "pass").write_text(PASSPHRASE)
    monkeypatch.setenv("FITUP_PASSPHRASE_FILE", str(bench.folder / "pass"))
    old = key_of(bench, "Jonas")

    def run(*words):
        code = main(["--job", bench.place, "--json", *words])
        return code, json.loads(capsys.readouterr().out)

    code, said = run("key", "Jonas", "--add", "--retire", old[:8], "--reason", "lost", "--by", "Mira")
    assert (code, [k["until"] > 0 for k in said["keys"]]) == (0, [True, False])
    code, said = run("key", "Jonas")
    assert (code, said["keys"][0]["reason"]) == (0, "lost")
    assert run("key", "Jonas", "--add", "--by", "Mira")[0] == 2
    assert main(["--job", bench.place, "key", "Jonas"]) == 0
    assert f"{old[:16]}  known since entry" in capsys.readouterr().out
    bench.job.change_roles("Jonas", ("drawn", "checked", "approved", "keeper"), "two keepers")
    mine, since = key_of(bench, "Jonas"), bench.job.seal()[0]
    code, said = run("key", "Mira", "--add", "--reason", "another workstation", "--by", "Jonas")
    assert (code, said["went"]) == (0, [])
    words = ("--retire", mine[:8], "--from-entry", str(since + 1), "--reason", "stolen", "--by", "Mira")
    code, gone = run("key", "Jonas", "--add", *words)
    assert (code, gone["went"]) == (0, [f"Mira {said['added'][:16]}"])
    assert "keys of others that were added with it are retired too: Mira" in gone["done"]


def exchange_key_files(bench, one="Mira", other="Jonas"):
    first, second = (keys_folder() / f"{key_of(bench, name)}.pem" for name in (one, other))
    held = first.read_bytes()
    first.write_bytes(second.read_bytes())
    second.write_bytes(held)


@pytest.mark.parametrize("act", ["sign", "lock", "change_key"])
def test_a_key_file_that_holds_another_key_than_its_name_says_signs_nothing(bench, act):
    bench.sign_all(*BOTH)
    before = len(list(bench.job.journal()))
    exchange_key_files(bench)
    bench.reopen()
    with pytest.raises(BadInput, match="another key than its name says"):
        if act == "sign":
            bench.job.sign(BOTH, "drawn", "Mira", {})
        elif act == "lock":
            bench.job.lock(BOTH, "Jonas", bench.folder / "out")
        else:
            replace(bench)
    assert len(list(bench.job.journal())) == before
    assert bench.job.verify() == ()


def test_an_entry_whose_signature_does_not_hold_is_not_written(bench):
    store = bench.job.store
    act = {"kind": "sign_revision", "key": key_of(bench, "Mira"), "person": "Mira"}
    for signature in ("00" * 64, "no hex"):
        with pytest.raises(BadInput, match="nothing was written"), store.writing() as facts:
            store.append(facts, job=bench.job.ident, by="Mira", act=act, signature=signature)
    assert bench.job.verify() == ()


@pytest.mark.parametrize("secret", ["x" * 1024, "é" * 600, "\udcff"])
def test_a_passphrase_that_no_key_can_be_locked_with_is_refused(bench, secret):
    with pytest.raises(BadInput, match="passphrase"):
        make_key(secret)
    with pytest.raises(BadInput, match="passphrase"):
        open_key(key_of(bench, "Mira"), "Mira", secret)
