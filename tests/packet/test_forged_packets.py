"""
A packet proves its lock by itself, and beside its job it is current, superseded, disowned or foreign.

One name an attack, one test an attack. A forged packet is built by somebody with a key of the job, so that its own
hashes and its signature are right: what it proves is what is looked at.
"""

from __future__ import annotations

import io
import json
import zipfile

import pytest
from bench_job import PASSPHRASE, Bench, plate_dxf
from forged_locks import forged_lock, kept_verdict
from sheet_samples import words
from small_job import MovingClock

from ledger.acts.base import make
from ledger.acts.parts import NewRevision
from ledger.acts.people import ChangeRoles
from ledger.acts.questions import AskQuestion
from ledger.acts.release import SetPolicy
from ledger.cli import main
from ledger.domain.canonical import canonical
from ledger.domain.program import PROGRAM
from ledger.domain.sealed import row_hash, signed_statement
from ledger.judge.carried_proof import proof_problems
from ledger.packet.build import MANIFEST, PROOF
from ledger.packet.manifest import read_manifest
from ledger.release.packets import by_itself
from ledger.store.sealed import open_key

pytestmark = pytest.mark.file_only
OWN, OTHER = plate_dxf(), plate_dxf(diameter=14.0)


@pytest.fixture
def lid(bench):
    """LID, signed by both and GO."""
    bench.plate("LID", OWN, unconnected=True)
    bench.sign_all("LID")
    return bench


@pytest.fixture
def packet(lid):
    """The packet of LID A, truly locked."""
    return lid.job.lock(["LID"], "Jonas", lid.folder / "out").packet


def told(data):
    seen = by_itself(data)
    assert (seen.ok, seen.state) == (False, "altered")
    return " | ".join(f.message for f in seen.report.problems)


def files_of(path):
    with zipfile.ZipFile(io.BytesIO(path.read_bytes())) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def exits(bench, path, *more):
    return main(["--job", bench.place, *more, "verify", str(path)])


def test_a_true_packet_proves_itself_without_any_job(packet, monkeypatch, tmp_path, capsys):
    monkeypatch.chdir(tmp_path / "out")
    assert main(["verify", packet.name]) == 0
    said = capsys.readouterr().out
    assert "intact, checked by itself" in said
    assert "not checked: whether it was superseded or disowned since" in said
    (first,) = [e["act"] for e in entries_of(packet) if e["act"].get("name") == "Mira"]
    assert by_itself(packet.read_bytes()).root == first["key"]
    assert " ".join(first["key"][k : k + 4] for k in range(0, 20, 4)) in said


def entries_of(path):
    return [json.loads(e["body"]) for e in json.loads(files_of(path)[PROOF])["entries"]]


def test_a_packet_carries_no_entry_that_its_lock_does_not_rest_on(packet, lid):
    kinds = [e["act"]["kind"] for e in entries_of(packet)]
    assert kinds == ["open_job", "enroll_person", "enroll_person", "take_profile", *["sign_revision"] * 2]


def test_swapped_verdict_in_a_packet(lid):
    good = kept_verdict(lid, "LID")
    lid.plate("CAP", OTHER, unconnected=True)
    assert "CAP A was locked with the verdict of LID A" in told(forged_lock(lid, "CAP", verdict=good))


def test_verdict_no_go_in_a_packet(lid):
    lid.do(AskQuestion, number="LID", ident="Q1", text="which finish?")
    assert "LID A was locked although its verdict was NO-GO" in told(forged_lock(lid, "LID"))


def test_roles_missing_in_a_packet(lid):
    good = kept_verdict(lid, "LID")
    lid.do(AskQuestion, number="LID", ident="Q1", text="which finish?")
    (now,) = lid.job.verdicts(["LID"])
    data = forged_lock(lid, "LID", verdict={**good, "subject": now.subject})
    assert "LID A was locked without a signature as checked and drawn" in told(data)


def test_drawing_not_the_parts_own_in_a_packet(lid):
    data = forged_lock(lid, "LID", drawing=OTHER)
    assert "LID A was locked with another drawing than the one taken of it" in told(data)


def test_packet_without_its_proof(lid):
    assert "has no proof.json" in told(forged_lock(lid, "LID", proof=False))


def without(files, kind):
    """The proof with the entries of a kind left out, and the lock that it was of."""
    whole = json.loads(files[PROOF])
    whole["entries"] = [e for e in whole["entries"] if json.loads(e["body"])["act"]["kind"] != kind]
    return {PROOF: json.dumps(whole, separators=(",", ":"), sort_keys=True, ensure_ascii=False).encode()}


@pytest.mark.parametrize("kind", ["open_job", "enroll_person", "sign_revision", "take_profile"])
def test_entries_left_out_of_a_proof(packet, kind):
    """Whatever it rests on is missed; nothing is made up for it."""
    files = files_of(packet)
    lock = read_manifest(files[MANIFEST]).sealed
    assert list(proof_problems(lock, files)) == []
    assert list(proof_problems(lock, without(files, kind)))


def test_verdicts_left_out_of_a_proof(packet):
    files = files_of(packet)
    proof = {**json.loads(files[PROOF]), "verdicts": []}
    lock = read_manifest(files[MANIFEST]).sealed
    (found,) = proof_problems(
        lock, {PROOF: json.dumps(proof, separators=(",", ":"), sort_keys=True).encode()}
    )
    assert "verdict that cannot be read" in found.message


def put_in(files, act, by="Jonas", **changed):
    """The proof with an entry put in at a place that is free; and the lock that it was of."""
    lock = read_manifest(files[MANIFEST]).sealed
    whole = json.loads(files[PROOF])
    taken = {e["seq"] for e in whole["entries"]}
    seq = min(set(range(1, lock.seq)) - taken)
    said = {"job": json.loads(lock.body)["job"], "seq": seq, "at": "2026-03-03T09:00:00Z", "by": by}
    body = canonical({**said, "program": PROGRAM, "act": act})
    row = {"seq": seq, "previous": "ab" * 32, "body": body.decode(), "signature": "", **changed}
    row["hash"] = row_hash(row["previous"], body, row["signature"])
    whole["entries"] = sorted([*whole["entries"], row], key=lambda e: e["seq"])
    return " | ".join(f.message for f in proof_problems(lock, {PROOF: canonical(whole)}))


def test_policy_in_a_proof_that_no_keeper_signed(packet, lid):
    key = entries_of(packet)[1]["act"]["key"]
    signed = {"person": "Jonas", "key": key, "nonce": "ab" * 16, "seal": f"1:{'ab' * 32}"}
    act = make(SetPolicy, roles=("drawn",), **signed).model_dump(mode="json")
    assert "(set policy) was not allowed" in put_in(files_of(packet), act)


@pytest.mark.parametrize("kind", ["undo", "keep_packet", "lock"])
def test_entry_in_a_proof_of_a_kind_that_no_lock_rests_on(packet, kind):
    act = {"kind": kind, "version": 1, "undoes": 2}
    assert "is of a kind that no lock rests on" in put_in(files_of(packet), act)


def test_two_entries_of_a_proof_at_one_place(packet):
    taken = json.loads(files_of(packet)[PROOF])["entries"][1]["previous"]
    act = next(b["act"] for b in entries_of(packet) if b["act"]["kind"] == "take_profile")
    assert "stand at one place" in put_in(files_of(packet), act, previous=taken)


def test_signature_in_a_proof_in_a_role_that_the_signer_lacks(packet):
    """An entry by which Jonas draws only, put before his signature as checked, takes that away."""
    files = files_of(packet)
    opening, first = json.loads(files[PROOF])["entries"][:2]
    key = json.loads(first["body"])["act"]["key"]
    signed = {"person": "Mira", "key": key, "nonce": "ab" * 16, "seal": f"{opening['seq']}:{opening['hash']}"}
    act = make(ChangeRoles, name="Jonas", roles=("drawn",), reason="draws only", **signed)
    act = act.model_dump(mode="json")
    statement = signed_statement(json.loads(first["body"])["job"], act)
    signature = open_key(key, "Mira", PASSPHRASE).sign(statement).hex()
    assert "without a signature as checked" in put_in(files, act, "Mira", signature=signature)


def test_entry_altered_in_a_proof(packet):
    files = files_of(packet)
    lock = read_manifest(files[MANIFEST]).sealed
    (found,) = proof_problems(lock, {PROOF: files[PROOF].replace(b"Jonas", b"Jonah")})
    assert "is not what was written in this job" in found.message


def test_current_packet(lid, packet, capsys):
    assert exits(lid, packet) == 0
    assert "intact, current, checked by itself and against the job" in capsys.readouterr().out
    assert exits(lid, packet, "--json") == 0
    assert json.loads(capsys.readouterr().out)["state"] == "current"


def test_superseded_packet(lid, packet, capsys):
    lid.do(NewRevision, number="LID", reason="a wider hole")
    lid.lock("LID")
    assert exits(lid, packet) == 1
    assert "LID A is superseded: revision B was locked since" in capsys.readouterr().out
    assert exits(lid, packet, "--json") == 1
    body = json.loads(capsys.readouterr().out)
    assert (body["ok"], body["state"]) == (False, "superseded")


def test_packet_of_another_job(lid, packet, tmp_path, capsys):
    (tmp_path / "other").mkdir()
    other = Bench.started(tmp_path / "other", MovingClock())
    other.job.close()
    assert exits(other, packet) == 1
    assert "FOREIGN" in capsys.readouterr().out
    assert exits(other, packet, "--json") == 1
    body = json.loads(capsys.readouterr().out)
    assert (body["ok"], body["state"], body["problems"]) == (False, "foreign", [])


def test_disowned_lock(bench, lid, tmp_path, capsys):
    """A lock that another line of entries holds: the job was brought back to before it."""
    copy = tmp_path / "before.db"
    lid.job.backup(copy)
    made = lid.job.lock(["LID"], "Jonas", lid.folder / "out")
    assert main(["--job", str(copy), "verify", str(made.packet)]) == 4
    assert "DISOWNED" in (said := capsys.readouterr().out)
    assert "does not hold this packet's entry" in said


def test_disowned_person(lid, packet, capsys):
    """The key that locked it was in wrong hands by then."""
    last = lid.job.seal()[0]
    (key,) = lid.job.keys("Jonas")
    reason = "the laptop was lost"
    lid.job.change_key("Jonas", retires=key.key, new=PASSPHRASE, until=last - 1, by="Mira", reason=reason)
    assert exits(lid, packet, "--json") == 4
    body = json.loads(capsys.readouterr().out)
    assert body["state"] == "disowned"
    assert "signature does not count" in body["problems"][0]["message"]


def test_packet_of_a_lock_that_the_job_does_not_believe(lid, capsys):
    """It carries a policy of its own choice: by itself nothing is wrong with it, beside the job there is."""
    lid.job.set_policy(roles=("drawn", "checked", "approved"), by="Mira")
    lid.sign_all("LID")
    (now,) = lid.job.verdicts(["LID"])
    good = {**kept_verdict(lid, "LID"), "stops": [], "verdict": "GO", "subject": now.subject}
    data = forged_lock(lid, "LID", verdict=good, leave_out="set_policy")
    path = lid.folder / "forged.zip"
    path.write_bytes(data)
    assert by_itself(data).ok
    assert exits(lid, path) == 4
    assert "without a signature as approved" in capsys.readouterr().out


def test_the_root_stands_on_every_paper(packet, lid):
    """The vendor sheet, the job record and the report show it as the packet does."""
    root = by_itself(packet.read_bytes()).root
    short = " ".join(root[k : k + 4] for k in range(0, 20, 4))
    for paper in (lid.job.sheet("LID"), lid.job.record("LID")):
        assert short in words(paper)
    assert short in lid.job.report().decode()
