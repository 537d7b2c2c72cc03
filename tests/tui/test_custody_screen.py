"""The job as a whole on the screens: check outgoing files, verify, export, bring in, keys of people."""

from __future__ import annotations

import re

import pytest
from bench_job import PASSPHRASE, plate_dxf
from small_job import chained_again
from test_screens import choose, flat, on_screens, press, rows, shown, write
from textual.widgets import Input, Static

from ledger.domain.errors import BadInput, UnknownName
from ledger.domain.key_line import KeyLine
from ledger.job import Job
from ledger.release.custody import examine
from ledger.store.sealed import keys_folder
from ledger.words.people import key_line
from tui.custody_screen import KeepingScreen
from tui.parts_screen import PartsScreen
from tui.start_screen import StartScreen


@pytest.fixture(autouse=True)
def _seat(monkeypatch):
    monkeypatch.setenv("FITUP_BY", "Mira")


def found(app):
    return str(app.screen.query_one("#found", Static).render())


def on_keeping(place, script):
    async def opened(app, pilot):
        await press(pilot, "w")
        assert isinstance(app.screen, KeepingScreen)
        await script(app, pilot)

    on_screens(place, opened, size=(120, 40))


async def go(app, pilot, words, typed):
    choose(app, words)
    await press(pilot, "enter")
    await write(pilot, str(typed))


def test_a_folder_is_guarded(bench):
    bench.lock("BASE", "TURN")
    (bench.folder / "out" / "odd.dxf").write_bytes(plate_dxf(width=321.0))

    async def script(app, pilot):
        await go(app, pilot, "check a folder", bench.folder / "out")
        assert "3 DXF files, 1 that must not go" in flat(app)
        told = found(app).splitlines()
        current = [
            line for line in told if line.startswith("✓ ")
        ]  # the bytes are those of both: the names tell
        assert sorted(
            number for line in current for number in ("BASE", "TURN") if f": current {number} " in line + " "
        ) == [
            "BASE",
            "TURN",
        ]
        assert "✗ odd.dxf: differs nearest to" in found(app)
        assert any("321.000 x 100.000 mm" in line for line in told)
        choose(app, "check a folder")
        await press(pilot, "enter")
        await write(pilot, str(bench.folder / "nowhere"))
        assert "there is no folder" in flat(app)

    on_keeping(bench.place, script)


def test_packets_and_drawings_are_verified(bench):
    packet = bench.lock("BASE", "TURN").packet
    data = packet.read_bytes()
    (bench.folder / "cut.zip").write_bytes(data[:-7])
    (bench.folder / "a.dxf").write_bytes(plate_dxf())
    (bench.folder / "b.dxf").write_bytes(plate_dxf(width=321.0))

    async def script(app, pilot):
        await go(app, pilot, "verify a packet", packet)
        assert "intact, current: checked by itself and against the job" in flat(app)
        assert "packet of BASE A, TURN A" in found(app)
        assert "locked by Jonas with key" in found(app)
        await go(app, pilot, "verify a packet", bench.folder / "cut.zip")
        assert "intact, current" not in flat(app)
        await press(pilot, "escape")
        await go(app, pilot, "verify a packet", bench.folder / "a.dxf")
        assert re.search(r"a\.dxf: byte for byte (BASE|TURN) A, current", flat(app))  # one drawing for both
        await go(app, pilot, "verify a packet", bench.folder / "b.dxf")
        assert "no locked revision: do not send it" in flat(app)
        await go(app, pilot, "verify a packet", bench.folder / "none.zip")
        assert "cannot read" in flat(app)

    on_keeping(bench.place, script)


def test_a_packet_whose_entry_is_not_here_is_told(bench):
    packet = bench.lock("BASE", "TURN").packet
    bench.job.close()
    chained_again(bench.place, lambda seq, body: {**body, "program": "0.0.9"} if seq == 2 else body)

    async def script(app, pilot):
        await go(app, pilot, "verify a packet", packet)
        assert "was not allowed" in flat(app)
        await press(pilot, "escape")
        await go(app, pilot, "against a seal", "3:" + "0" * 64)
        assert "altered, or not continued from that seal" in flat(app)
        assert "history_changed" in found(app)

    on_keeping(bench.place, script)


def test_a_head_that_was_noted_is_still_there(bench):
    seq, seal = bench.job.seal()

    async def script(app, pilot):
        await go(app, pilot, "against a seal", f"{seq}:{seal}")
        assert "intact, and continues from that seal" in flat(app)

    on_keeping(bench.place, script)


def test_the_job_is_written_out(bench):
    async def script(app, pilot):
        await go(app, pilot, "report of the whole job", bench.folder / "report.html")
        await go(app, pilot, "dimensions as a table", bench.folder / "dimensions.csv")
        await go(app, pilot, "export the journal", bench.folder / "whole.zip")
        assert "export: " in flat(app)
        await go(app, pilot, "back up the job", bench.folder / "copy.db")
        assert "copy: " in flat(app)
        choose(app, "back up the job")
        await press(pilot, "enter")
        await write(pilot, str(bench.folder / "copy.db"))
        assert "exists already and is not overwritten" in flat(app)

    on_keeping(bench.place, script)
    assert (bench.folder / "report.html").read_bytes().startswith(b"<!doctype html>")
    assert b"200 mm" in (bench.folder / "dimensions.csv").read_bytes()
    assert examine(str(bench.folder / "copy.db")).seal == examine(bench.place).seal


def test_an_exported_job_is_brought_in_from_the_first_screen(bench, tmp_path):
    bench.job.export(tmp_path / "whole.zip")
    seal = bench.job.seal()
    new = tmp_path / "new" / "fitup.db"
    new.parent.mkdir()

    async def script(app, pilot):
        assert isinstance(app.screen, StartScreen)
        await press(pilot, "I")
        await write(pilot, str(tmp_path / "nothing.zip"))
        assert "no such folder or file" in flat(app)
        assert not new.exists()
        await write(pilot, str(tmp_path / "whole.zip"))
        assert isinstance(app.screen, PartsScreen)
        assert "Pier mount: 2 parts" in shown(app)

    on_screens(new, script)
    with Job(str(new), lambda _name: "") as job:
        assert job.seal() == seal


def test_a_key_is_replaced_on_the_people_screen(bench):
    old = bench.job.keys("Jonas")[0].key

    async def script(app, pilot):
        await press(pilot, "P")
        choose(app, "Jonas:")
        await press(pilot, "enter")
        assert f"{old[:16]} since 3, in force" in flat(app)
        await write(pilot, f"retire {old[:4]}, add: laptop lost")
        assert "Mira signs the change" in flat(app)
        choose(app, "Mira signs the change")
        await press(pilot, "enter")
        assert "a new key is made; because: laptop lost" in flat(app)
        await press(pilot, "tab", "enter")
        for _ in range(2):
            app.screen.focused.value = "another passphrase"
            await press(pilot, "enter")
        assert "passphrase of Mira" in flat(app)
        await write(pilot, PASSPHRASE)
        assert "keys of Jonas changed; new key" in flat(app)

    on_screens(bench.place, script, size=(120, 40))
    first, second = bench.job.keys("Jonas")
    assert (first.in_force, first.reason, second.in_force) == (False, "laptop lost", True)
    assert (keys_folder() / f"{second.key}.pem").is_file()


def test_a_key_is_retired_without_another_from_an_earlier_entry_on(bench):
    bench.sign_all("BASE", "TURN")
    old, since = bench.job.keys("Jonas")[0].key, bench.job.seal()[0]

    async def script(app, pilot):
        await press(pilot, "P")
        choose(app, "Jonas:")
        await press(pilot, "enter")
        await write(pilot, f"retire {old[:4]} from {since}: stolen")
        choose(app, "Mira signs the change")
        await press(pilot, "enter")
        assert f"is void from entry {since} on" in flat(app)
        await press(pilot, "tab", "enter")
        await write(pilot, PASSPHRASE)
        assert "keys of Jonas changed" in flat(app)
        assert any("Jonas: drawn, checked, approved; no key in force" in row for row in rows(app))

    on_screens(bench.place, script, size=(120, 40))
    (only,) = bench.job.keys("Jonas")
    assert (only.until, only.disowned) == (since, (since,))


def test_a_change_of_keys_reads_as_it_is_meant():
    lines = (KeyLine("5e1f" + "0" * 60, "Jonas", 3), KeyLine("77aa" + "0" * 60, "Jonas", 9, until=12))
    expected = {"retires": lines[0].key, "until": 38, "adds": True, "reason": "laptop: lost"}
    assert key_line("retire 5E1F from 38, add: laptop: lost", lines).fields == expected
    assert key_line("add: a second workstation", lines).fields == {
        "retires": "",
        "until": 0,
        "adds": True,
        "reason": "a second workstation",
    }
    for wrong in ("", ": why", "retire 5e1f", "retire 5e1f:", "retire: why", "remove 5e1f: why"):
        with pytest.raises(BadInput, match="expected: retire KEY"):
            key_line(wrong, lines)
    for unknown in ("retire 77aa: why", "retire 9: why"):
        with pytest.raises(UnknownName):
            key_line(unknown, lines)


def test_the_policy_is_set_by_the_same_verb(bench):
    async def script(app, pilot):
        await press(pilot, "P", "down", "down", "enter")
        await write(pilot, "drawn, approved")
        await press(pilot, "tab", "enter")
        app.screen.query_one("#passphrase", Input).value = PASSPHRASE
        await press(pilot, "enter")
        assert "required signatures: drawn, approved" in flat(app)

    on_screens(bench.place, script)
    assert bench.job.policy().roles == ("drawn", "approved")
