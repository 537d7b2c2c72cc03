"""
One permit covers a finding of a connection at every part of it, between the revisions that it names, and nothing else.
"""

from __future__ import annotations

import io
import json
from contextlib import nullcontext
from itertools import product

import pytest
from bench_job import CORNERS, plate_dxf
from hypothesis import given
from hypothesis import strategies as st
from pypdf import PdfReader
from small_job import edit

from ledger.acts.parts import NameGroup, NewRevision
from ledger.acts.permits import Permit
from ledger.acts.questions import AskQuestion
from ledger.cases.surroundings import OF_CONNECTIONS
from ledger.checks import all_checks
from ledger.cli import main
from ledger.domain.errors import BadInput, UnknownName
from ledger.domain.finding import Finding
from ledger.domain.gate import judge
from ledger.domain.verdict import Outcome, PermitMade, Policy

AT = "TURN-BASE/TURN/H3"
PASS = ("BASE", "TURN")

pytestmark = pytest.mark.file_only  # nothing here depends on the database


def off(bench, number="TURN"):
    """A hole that is 4 mm off: a stop of the connection, told at both parts."""
    moved = ((24.0, 20.0), *CORNERS[1:])
    bench.job.take_profile(number, f"{number}.dxf", plate_dxf(moved), by="Mira")


def permit(bench, number="TURN", **fields):
    fields = {"code": "offset", "place": AT, "reason": "reamed on site", **fields}
    return bench.job.permit(number, "Jonas", **{"until": "", **fields})


def stopped(bench, *numbers):
    """The parts that the offset stops, judged as a set."""
    return {v.part for v in bench.job.verdicts(numbers) if "offset" in {s.code for s in v.stops}}


@pytest.fixture
def odd(bench):
    off(bench)
    assert stopped(bench, *PASS) == set(PASS)
    return bench


@pytest.mark.parametrize("given_at", PASS)
def test_one_permit_is_enough_at_both_parts_wherever_it_is_given(odd, given_at):
    found = permit(odd, given_at)
    assert found.tellings == (("TURN-BASE", (("BASE", "A"), ("TURN", "A"))),)
    assert stopped(odd, *PASS) == stopped(odd, "TURN") | stopped(odd, "BASE") == set()
    for verdict in odd.job.verdicts(PASS):
        assert "offset" in {f.code for f in verdict.permitted}
    odd.lock(*PASS)
    assert odd.job.verify() == ()


@pytest.mark.parametrize("revised", PASS)
def test_it_lapses_at_both_parts_when_either_is_revised(odd, revised):
    permit(odd)
    odd.lock(*PASS)
    odd.do(NewRevision, number=revised, reason="a wider hole")
    other = next(n for n in PASS if n != revised)
    assert stopped(odd, revised) == {revised}
    assert stopped(odd, other) == set()  # as it was locked
    odd.do(NewRevision, number=other, reason="a wider hole")
    assert stopped(odd, *PASS) == set(PASS)


def test_with_a_new_revision_of_the_partner_it_covers_the_old_pair_only(odd):
    permit(odd)
    odd.lock("BASE", "TURN")
    odd.do(NewRevision, number="TURN", reason="a wider hole")
    odd.do(NewRevision, number="BASE", reason="a wider hole")
    for number in PASS:  # each judged by itself against the other's A, which is locked
        assert permit(odd, number).parts == tuple((n, "B" if n == number else "A") for n in PASS)
        assert stopped(odd, number) == set()
    assert stopped(odd, *PASS) == set(PASS)
    assert permit(odd).parts == (("BASE", "B"), ("TURN", "B"))  # as a set that is told next
    assert stopped(odd, *PASS) == set()


def test_a_second_connection_of_the_same_parts_needs_a_permit_of_its_own(odd):
    odd.connection("SECOND")
    found = [s for s in odd.job.verdicts(["TURN"])[0].stops if s.code == "offset"]
    assert {s.where.partition("/")[0] for s in found} == {"TURN-BASE", "SECOND"}
    permit(odd, place=found[0].where)
    assert stopped(odd, *PASS) == set(PASS)
    permit(odd, place=found[1].where)
    assert stopped(odd, *PASS) == set()


def test_a_permit_of_a_part_is_for_that_part_alone(bench):
    bench.do(AskQuestion, number="BASE", ident="Q1", text="which finish?")
    found = permit(bench, "BASE", code="question_open", place="Q1")
    assert found.tellings == (("", (("BASE", "A"),)),)
    assert bench.job.permits("TURN") == ()


def written(bench, **fields):
    """A permit that somebody with a key of the job signs by hand, past every check; its entry is sound."""
    signer = bench.job._signer("Jonas")
    whole = {"code": "offset", "place": AT, "reason": "r", "parts": (), "connection": "TURN-BASE", **fields}
    with bench.job.store.writing() as facts, pytest.MonkeyPatch.context() as patch:
        patch.setattr(Permit, "check", lambda *_: None)
        signer.append(facts, signer.act(facts, Permit, **whole))


def revisions(**named):
    return tuple({"number": n, "revision": r} for n, r in named.items())


FORGED = {
    "a part that is not of the connection": {"parts": revisions(TURN="A", LID="A")},
    "another revision of one": {"parts": revisions(TURN="A", BASE="B")},
    "another revision of the other": {"parts": revisions(TURN="B", BASE="A")},
    "one part only": {"parts": revisions(TURN="A")},
    "a third part besides": {"parts": revisions(TURN="A", BASE="A", LID="A")},
    "another connection": {"parts": revisions(TURN="A", BASE="A"), "connection": "LID-BASE"},
    "no connection": {"parts": revisions(TURN="A"), "connection": ""},
    "no connection, and both": {"parts": revisions(TURN="A", BASE="A"), "connection": ""},
    "another place": {"parts": revisions(TURN="A", BASE="A"), "place": "TURN-BASE/TURN/H1"},
    "another code": {"parts": revisions(TURN="A", BASE="A"), "code": "unmatched"},
    "up to less than is found": {"parts": revisions(TURN="A", BASE="A"), "up_to": "0.1 mm", "above": True},
    "no code of connections": {
        "parts": revisions(TURN="A", BASE="A"),
        "code": "question_open",
        "place": "Q1",
    },
}


NOT_ALLOWED = {  # no entry at all: what stands behind one would not count
    "a part that is not of the connection",
    "another revision of one",
    "another revision of the other",
    "one part only",
    "a third part besides",
    "another connection",
    "no connection, and both",
}


@pytest.mark.parametrize("what", FORGED)
def test_a_permit_that_says_anything_else_covers_nothing(odd, what):
    odd.plate("LID", unconnected=True)
    odd.do(AskQuestion, number="BASE", ident="Q1", text="which finish?")
    before = stops(odd)
    with pytest.raises(BadInput) if what in NOT_ALLOWED else nullcontext():
        written(odd, **FORGED[what])
    assert stops(odd) == before
    written(odd, parts=revisions(TURN="A", BASE="A"))  # the true one does
    assert stops(odd) < before


def stops(bench):
    return {(v.part, s.code) for v in bench.job.verdicts(("BASE", "TURN", "LID")) for s in v.stops}


@pytest.mark.parametrize("what", ["one part only", "a third part besides", "no connection, and both"])
def test_such_a_permit_is_refused_where_it_is_given(odd, what):
    odd.plate("LID", unconnected=True)
    signer = odd.job._signer("Jonas")
    fields = {"connection": "TURN-BASE", "code": "offset", "place": AT, "reason": "r", **FORGED[what]}
    with odd.job.store.reading() as facts, pytest.raises(BadInput, match=r"its parts|their connection"):
        signer.act(facts, Permit, **fields)


@pytest.mark.parametrize(
    "change",
    [
        "UPDATE fact_permit SET revision = 'B' WHERE number = 'BASE'",
        'UPDATE fact_permit SET parts = \'[["BASE", "B"], ["TURN", "A"]]\'',
        "UPDATE fact_permit SET connection = ''",
        "DELETE FROM fact_permit WHERE number = 'BASE'",
        "UPDATE fact_permit SET number = 'LID' WHERE number = 'BASE'",
    ],
)
def test_a_permit_written_over_in_the_facts_covers_nothing_there(odd, change):
    permit(odd)
    odd.job.close()
    edit(odd.place, change)
    odd.reopen()
    listed = {
        d.verdict.part for d in odd.job.each_verdict(PASS) for s in d.verdict.stops if s.code == "offset"
    }
    assert "BASE" in listed
    assert stopped(odd, *PASS) == set()  # what was signed is read from the journal, not from the tables


@pytest.mark.parametrize("at", PASS)
def test_it_is_withdrawn_once_for_both(odd, at):
    permit(odd)
    (made,) = odd.job.permits(at)
    odd.job.withdraw_permit(made.seq, "Mira", "the vendor cuts it again")
    assert stopped(odd, *PASS) == set(PASS)
    for number in PASS:
        (gone,) = odd.job.permits(number)
        assert (gone.in_force, gone.void) == (False, "withdrawn by Mira: the vendor cuts it again")
    with pytest.raises(BadInput, match="withdrawn by Mira already"):
        odd.job.withdraw_permit(made.seq, "Jonas", "again")
    with pytest.raises(BadInput, match="gives no permit"):
        odd.job.withdraw_permit(made.seq + 1, "Jonas", "again")
    assert odd.job.verify() == ()
    permit(odd)  # a new one may be given
    assert stopped(odd, *PASS) == set()


INNER = ((60.0, 30.0), (140.0, 30.0), (140.0, 70.0))


def test_what_two_connections_tell_of_a_third_part_takes_one_permit_there(bench):
    """Two parts overlap on a third: at the third both connections tell it, at either of the two its own alone."""
    bench.plate("PLATE", plate_dxf((*CORNERS, *INNER)))
    bench.plate("LID", plate_dxf(INNER))
    labels = {tuple(map(round, h.centre)): h.label for h in bench.job.part("PLATE").holes}
    for name, points in (("outer", CORNERS), ("inner", INNER)):
        here = tuple(labels[tuple(map(round, p))] for p in points)
        bench.do(NameGroup, number="PLATE", name=name, labels=here)
    for number, group in (("TURN", "outer"), ("LID", "inner")):
        plies = ({"part": number, "group": "bolts"}, {"part": "PLATE", "group": group})
        bench.connection(f"{number}-PLATE", plies=plies)
    over = {"code": "neighbors_overlap", "place": "LID-PLATE/TURN-PLATE"}
    three = {"LID", "PLATE", "TURN"}
    assert {n for n in three if over["code"] in bench.codes(n)} == three
    assert [name for name, _ in permit(bench, "TURN", **over).tellings] == ["TURN-PLATE"]
    assert {n for n in three if over["code"] in bench.codes(n)} == three - {"TURN"}
    assert [name for name, _ in permit(bench, "PLATE", **over).tellings] == ["LID-PLATE"]
    assert {n for n in three if over["code"] in bench.codes(n)} == set()
    for made in bench.job.permits("PLATE"):
        bench.job.withdraw_permit(made.seq, "Mira", "cut again")
    assert {n for n in three if over["code"] in bench.codes(n)} == three
    found = permit(bench, "PLATE", **over)
    assert found.text == "LID A, PLATE A and TURN A"
    assert {n for n in three if over["code"] in bench.codes(n)} == set()


def test_what_was_seen_is_what_is_signed(odd):
    seen = odd.job.to_permit("TURN", "offset", AT)
    other = seen.__class__(seen.finding, (("TURN-BASE", (("BASE", "B"), ("TURN", "A"))),))
    with pytest.raises(BadInput, match="is now told of BASE A and TURN A, not of BASE B and TURN A"):
        odd.job.permit("TURN", "Jonas", seen=other, code="offset", place=seen.finding.where, reason="r")
    with pytest.raises(UnknownName):
        odd.job.to_permit("TURN", "offset", "nowhere")


def test_both_parts_record_and_report_name_it_with_both_revisions(odd, capsys):
    permit(odd)
    odd.lock(*PASS)
    for number in PASS:
        sheet = " ".join(p.extract_text() for p in PdfReader(io.BytesIO(odd.job.record(number))).pages)
        assert "BASE A with TURN A, no end date" in " ".join(sheet.split())
        assert main(["--job", odd.place, "show", number]) == 0
        assert "part BASE, revision A; part TURN, revision A" in capsys.readouterr().out
    assert odd.job.report().decode().count("BASE A with TURN A, no end date") == 2


def test_the_command_line_gives_and_withdraws_it(odd, capsys, tmp_path, monkeypatch):
    from bench_job import PASSPHRASE

    (tmp_path / "pass").write_text(PASSPHRASE)
    monkeypatch.setenv("FITUP_PASSPHRASE_FILE", str(tmp_path / "pass"))
    monkeypatch.setenv("FITUP_BY", "Jonas")
    where = ("--where", AT, "--reason", "reamed on site", "--json")
    assert main(["--job", odd.place, "permit", "BASE", "offset", *where]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["done"] == "Jonas permits offset on BASE A and TURN A"
    assert told["parts"] == [{"part": "BASE", "revision": "A"}, {"part": "TURN", "revision": "A"}]
    assert stopped(odd, *PASS) == set()
    assert main(["--job", odd.place, "withdraw", "TURN", "offset", *where]) == 0
    assert (
        json.loads(capsys.readouterr().out)["done"]
        == "Jonas withdrew the permit of offset on BASE A and TURN A"
    )
    assert stopped(odd, *PASS) == set(PASS)
    assert main(["--job", odd.place, "withdraw", "TURN", "offset", *where]) == 2


CODES = tuple(c for rule in all_checks() if rule.on in OF_CONNECTIONS for c in rule.codes)[:3]
WHERE = ("T-B/T/H1", "T-B/T/H2")
PAIRS = tuple((("B", b), ("T", t)) for b, t in product("AB", "AB"))
NAMED = st.tuples(st.sampled_from(CODES), st.sampled_from(WHERE), st.sampled_from(("T-B", "S-B", "")))


@given(NAMED, st.sampled_from(PAIRS), NAMED, st.sampled_from(PAIRS), st.booleans())
def test_a_permit_covers_exactly_the_finding_and_the_revisions_it_names(
    named, parts, told, looked_at, of_part
):
    """Whatever is told, of whichever connection or of the part alone: covered where all of it is the same, else not."""
    code, where, connection = named
    made = PermitMade(
        code, where, "r", "Jonas", sound=True, in_force=True, connection=connection, parts=parts
    )
    found = Finding(told[0], "m", where=told[1])
    outcome = Outcome("rule", told[2] or "T", "ran", (found,), plies=() if of_part else looked_at)
    judged = judge(
        part="T", revision=looked_at[1][1], subject="0" * 64, outcomes=(outcome,), signatures=(), permits=(made,),
        policy=Policy(roles=()),
    )  # fmt: skip
    same = (code, where) == (found.code, found.where)
    exact = same and (not connection if of_part else (connection == outcome.subject and parts == looked_at))
    assert (found in judged.permitted) is exact
    assert judged.go is exact


def test_what_two_connections_tell_alike_is_covered_only_when_both_are():
    found = Finding("offset", "m", where="H1")
    pair = (("B", "A"), ("T", "A"))
    outcomes = [Outcome("rule", name, "ran", (found,), plies=pair) for name in ("T-B", "S-B")]
    made = [
        PermitMade("offset", "H1", "r", "J", sound=True, in_force=True, connection=o.subject, parts=pair)
        for o in outcomes
    ]
    fields = {"part": "T", "revision": "A", "subject": "0", "signatures": (), "policy": Policy(roles=())}
    assert not judge(outcomes=outcomes, permits=made[:1], **fields).go
    assert judge(outcomes=outcomes, permits=made, **fields).go
