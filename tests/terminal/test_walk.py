"""The whole job in a real terminal, by keys alone, and how long it takes a person."""

from __future__ import annotations

import time

import pytest
from bench_job import Bench, plate_dxf
from in_tmux import command
from walking import (
    NOTES,
    RECORD,
    back_to_parts,
    enroll,
    mark_both,
    record_connection,
    record_plate,
    sign_alone,
    to_the_lock,
)

from ledger.acts.base import make
from ledger.acts.dimensions import RecordDimension
from ledger.store.journal import now

SIZES = [(80, 24), (120, 40)]


@pytest.mark.parametrize("size", SIZES)
def test_from_an_empty_folder_to_a_verified_packet_by_keys_alone(open_window, tmp_path, size):
    for name in ("base.dxf", "turn.dxf"):
        (tmp_path / name).write_bytes(plate_dxf())
    window = open_window(tmp_path, size)
    window.wait("no job at")
    window.press("n")
    window.answer("firm, printed as legal owner", "Pier mount", "no parts yet")
    enroll(window, "Mira")
    record_plate(window, "BASE", "base.dxf")
    back_to_parts(window)
    record_plate(window, "TURN", "turn.dxf")
    record_connection(window, "TURN-BASE: bolted M12 through, TURN bolts on BASE bolts")
    measure(window)
    back_to_parts(window)
    mark_both(window)
    window.press("s")
    sign_alone(window, "Mira")
    window.press("Escape")
    window.wait("2 GO, 0 NO-GO")
    window.press("l")
    to_the_lock(window, "Mira", "BASE A, TURN A")
    window.press("Enter")
    window.wait("locked: BASE A, TURN A", "packet:")
    assert window.leave() == 0
    (packet,) = (tmp_path / "out").glob("*.zip")
    verified = command(tmp_path, "verify", packet)
    assert (verified.returncode, verified.stderr) == (0, "")
    assert "packet of BASE A, TURN A" in verified.stdout
    assert "intact, current, checked by itself" in verified.stdout


def measure(window):
    """From the part to its connection: require a clearance, record what the feeler said, and back."""
    window.wait("is open and may change", gone=("recording", "reading"))
    window.press("Home")
    window.press("Enter")
    window.wait("TURN waits for BASE")
    window.press("End", "Enter")
    window.wait("TURN-BASE", "margin", "Show all")
    window.press("n")
    window.answer("required clearance of TURN-BASE", "rim: >= 2 mm", "clearance rim", "not measured")
    window.press("Escape")
    window.wait("TURN A (open)", "has not been measured", gone=("; proven", "reading"))
    window.press("Home")
    window.press("Enter")
    window.answer("rim of TURN-BASE, measured", "2.8 ±0.1 mm feeler", gone=("not been measured",))


# Card, Moran and Newell, The keystroke-level model for user performance time with interactive systems,
# Communications of the ACM 23 (1980) 396-410: a key by an average skilled typist, and one mental preparation.
KEY_S, MENTAL_S = 0.20, 1.35
MENTAL = (
    "new part",
    "open it",
    "take the drawing",
    *(title for _missing, title, _text in RECORD),
    "name the group",
    *(f"dimension {name}" for name in NOTES),
    "record the connection",
    "sign",
    *(f"type {name} again" for name in NOTES),
    "confirm",
    "passphrase",
)


@pytest.fixture
def one_locked_plate(tmp_path):
    """A job of one person with TURN locked, standing alone until something is bolted to it."""
    bench = Bench.started(tmp_path, now, people=("Mira",))
    bench.plate("TURN", unconnected=True)
    for name, nominal in NOTES.items():
        bench.job.do(
            make(RecordDimension, number="TURN", name=name, nominal=nominal, limits="±0.3", measured_on=name),
            by="Mira",
        )
    bench.job.sign(("TURN",), "checked", "Mira", {f"TURN/{k}": v for k, v in NOTES.items()})
    bench.job.lock(("TURN",), "Mira", tmp_path / "out")
    bench.job.close()
    (tmp_path / "base.dxf").write_bytes(plate_dxf())
    return tmp_path


def test_a_new_plate_with_a_connection_is_go_within_a_minute_of_keystrokes(open_window, one_locked_plate):
    """The keystrokes by the keystroke-level model; preparations and the waits on this clock are told beside them."""
    window = open_window(one_locked_plate)
    window.wait("1 GO, 0 NO-GO")
    begun, window.keys = time.monotonic(), 0
    record_plate(window, "BASE", "base.dxf", known="1 GO")
    record_connection(window, "BASE-TURN: bolted M12 through, BASE bolts on TURN bolts")
    window.press("s")
    sign_alone(window, "Mira")
    window.press("Escape")
    window.wait("BASE A (open) ✓ GO")
    waited = time.monotonic() - begun
    whole = window.keys * KEY_S + len(MENTAL) * MENTAL_S + waited
    print(f"{window.keys} keys, {len(MENTAL)} preparations, {waited:.1f} s waited: {whole:.1f} s in all")  # noqa: T201 - the number is asked for
    assert window.keys * KEY_S < 60
