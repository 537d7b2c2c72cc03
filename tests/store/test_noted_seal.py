"""A seal that somebody noted by hand finds a rewriting of what nobody has signed yet."""

from __future__ import annotations

import json
import random
import re

import pytest
from small_job import PASSPHRASE, answer, ask, chained_again, small_job

from ledger.cli import main
from ledger.domain.errors import BadInput
from ledger.domain.seal import ALPHABET, fits, read_seal, short_seal
from ledger.job import Job
from ledger.release.custody import examine


@pytest.fixture
def filed(tmp_path, clock):
    where = str(tmp_path / "fitup.db")
    small_job(where, clock).close()
    return where


def noted(place, capsys):
    assert main(["--job", place, "seal"]) == 0
    return capsys.readouterr().out.strip()


def richer(_seq, body):
    act = body["act"]
    return {**body, "act": {**act, "text": "Is it sound?"}} if "text" in act else body


def test_a_rewriting_before_a_noted_seal_is_found(filed, capsys):
    seal = noted(filed, capsys)
    with Job(filed, ask) as job:
        answer(job)
    assert main(["--job", filed, "verify", "--since", seal]) == 0
    assert f"and it extends {seal}" in capsys.readouterr().out
    chained_again(filed, richer)
    Job(filed, ask).close()
    assert examine(filed).whole
    assert {f.code for f in examine(filed, since=seal).problems} == {"seal_not_here"}
    assert main(["--job", filed, "verify", "--since", seal]) == 4


def test_a_seal_is_short_enough_to_copy_by_hand(filed, capsys):
    seal = noted(filed, capsys)
    group = f"[{ALPHABET}]{{4}}"
    assert re.fullmatch(rf"8-{group}-{group}-{group}-{group}-[{ALPHABET}]", seal)
    assert not set("01OIL") & set(ALPHABET)
    for copied in (seal.lower(), seal.replace("-", " "), f"  {seal[:2]}{seal[2:].replace('-', '')} "):
        assert main(["--job", filed, "verify", "--since", copied]) == 0
    capsys.readouterr()
    assert main(["--job", filed, "--json", "seal"]) == 0
    out = json.loads(capsys.readouterr().out)
    assert (out["note"], out["seal"]) == (seal, examine(filed).seal)


@pytest.mark.parametrize("seed", range(20))
def test_one_wrong_letter_or_two_that_changed_places_are_told(seed):
    draw = random.Random(seed)
    seal = short_seal(draw.randint(1, 10**6), draw.randbytes(32).hex())
    number, _, rest = seal.partition("-")
    letters = list(rest.replace("-", ""))
    at = draw.randrange(16)
    wrong = [*letters[:at], draw.choice([c for c in ALPHABET if c != letters[at]]), *letters[at + 1 :]]
    swapped = [*letters[:at], letters[at + 1], letters[at], *letters[at + 2 :]]
    digit = draw.randrange(len(number))
    other = number[:digit] + draw.choice([c for c in "123456789" if c != number[digit]]) + number[digit + 1 :]
    for copied in (f"{number}-{''.join(wrong)}", f"{number}-{''.join(swapped)}", f"{other}-{rest}"):
        if copied.replace("-", "") != seal.replace("-", ""):
            with pytest.raises(BadInput, match="copy it again"):
                read_seal(copied)
    assert read_seal(seal) == (int(number), rest[:-2])


@pytest.mark.parametrize(
    "written", ["8-ABCD", "8-0000-0000-0000-0000-0", "ABCD-ABCD-ABCD-ABCD-A", "8-" + "A" * 18]
)
def test_what_is_no_seal_is_refused(written):
    with pytest.raises(BadInput, match="what fitup seal prints"):
        read_seal(written)


def test_another_entry_never_fits_and_garbage_fits_nothing():
    seq, letters = read_seal(short_seal(3, "ab" * 32))
    assert (seq, fits("ab" * 32, letters), fits("ac" * 32, letters)) == (3, True, False)
    assert not fits("garbage", letters)
    assert not fits("", letters)


def test_verify_says_what_no_signature_covers(filed, capsys):
    """The enrolment of whoever founds the job is signed, then a change of a key: either covers what is before it."""
    seen = examine(filed)
    assert (seen.signed_up_to, seen.entries) == (1, 8)
    assert seen.unsigned.startswith("entries 2 to 8 are under no signature yet: whoever can write to the job")
    assert seen.to_note in seen.unsigned
    with Job(filed, ask) as job:
        job.change_key("Mira", new=PASSPHRASE, reason="second workstation", by="Mira")
    assert examine(filed).signed_up_to == 8
    assert examine(filed).unsigned.startswith("entry 9 is under no signature yet")
    assert main(["--job", filed, "verify"]) == 0
    assert "whoever can write to the job can rewrite that unseen" in capsys.readouterr().out
    assert main(["--job", filed, "--json", "verify"]) == 0
    out = json.loads(capsys.readouterr().out)
    assert (out["signed_up_to"], out["note"]) == (8, examine(filed).to_note)
    assert "under no signature" in out["unsigned"]


def test_a_signature_over_another_journal_covers_nothing(filed):
    with Job(filed, ask) as job:
        job.change_key("Mira", new=PASSPHRASE, reason="second workstation", by="Mira")
    chained_again(filed, richer)
    assert examine(filed).signed_up_to == 1  # the enrolment, which names the first entry
    assert not examine(filed).whole
