"""Two terminals on one job: neither loses what is typed, and a revision is locked once."""

from __future__ import annotations

from bench_job import PASSPHRASE
from in_tmux import command
from walking import mark_both, to_the_lock


def test_a_line_half_typed_outlives_what_another_seat_records(open_window, plates):
    here, there = open_window(plates), open_window(plates, env={"FITUP_BY": "Jonas"})
    for window in (here, there):
        window.wait("0 GO, 2 NO-GO")
    here.press("n")
    here.wait("new part")
    here.write("ARM cut Fork")
    there.press("n")
    there.answer("new part", "COVER cut Cover", "3 parts")
    here.wait("recorded by Jonas", "part ARM, cut, Fork")
    here.write(" arm")
    here.wait("part ARM, cut, Fork arm")
    here.press("Enter")
    here.wait("4 parts", "COVER", "ARM", gone=("new part",))


def test_one_of_two_seats_locks_and_the_other_is_told(open_window, signed):
    workstations = [open_window(signed, env={"FITUP_BY": name}) for name in ("Mira", "Jonas")]
    for window in workstations:
        window.wait("2 GO, 0 NO-GO")
        mark_both(window)
        window.press("l")
    to_the_lock(workstations[0], "Jonas", "BASE A, TURN A")
    to_the_lock(workstations[1], "Jonas", "BASE A, TURN A")
    for window in workstations:
        window.press("Enter")
        window.wait("passphrase of Jonas")
        window.write(PASSPHRASE)
    for window in workstations:
        window.press("Enter")
    for window in workstations:
        window.wait_for_one_of("packet:", "✗ ")
    seen = [window.flat() for window in workstations]
    won = ["packet:" in words for words in seen]
    assert sorted(won) == [False, True], "\n\n".join(seen)
    assert "locked" in seen[won.index(False)]
    assert len(list((signed / "out").glob("*.zip"))) == 1
    assert command(signed, "verify").returncode == 0
