"""The reader's child: warm, silent, limited, replaced when it misbehaves, gone when its parent is."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest
from profile_drawings import box, circle, codes, line, plate_bytes, raw, read

from ledger.domain.errors import BadInput, Unreadable
from ledger.profile import child as child_module
from ledger.profile import limits, pool
from ledger.profile.cache import Once, once
from ledger.profile.child import Child, Gone, Late, framed
from ledger.profile.pool import Reader
from ledger.profile.read import read_profile, read_profiles
from ledger.profile.recheck import recheck
from ledger.profile.scan import scan

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def reader():
    made = Reader()
    yield made
    made.close()


def parse(reader, data):
    return reader.parse(data, scan(data), unit=None, roles=None)


def heavy(count=9000):
    """Thousands of holes through each other: seconds of work."""
    holes = (circle(500 + 0.001 * k, 500 + 0.002 * (k % 97), 100 + 0.003 * k) for k in range(count))
    return raw(box(0, 0, 1000, 1000), *holes)


def test_one_child_serves_many_jobs(reader):
    parse(reader, plate_bytes())
    first = reader._idle[0].process.pid
    for _ in range(5):
        assert parse(reader, plate_bytes()).usable
    assert reader._idle[0].process.pid == first


def test_a_child_that_was_killed_is_replaced(reader):
    parse(reader, plate_bytes())
    os.kill(reader._idle[0].process.pid, signal.SIGKILL)
    reader._idle[0].process.wait()
    assert parse(reader, plate_bytes()).usable


def test_a_job_during_which_the_child_dies_is_refused_and_the_next_one_is_read(reader):
    parse(reader, plate_bytes())
    victim = reader._idle[0].process.pid
    timer = threading.Timer(0.3, os.kill, (victim, signal.SIGKILL))
    timer.start()
    with pytest.raises(Unreadable, match="stopped"):
        parse(reader, heavy())
    timer.join()
    assert parse(reader, plate_bytes()).usable


def test_a_job_that_is_late_is_killed_and_refused(reader, monkeypatch):
    parse(reader, plate_bytes())
    late = reader._idle[0].process
    monkeypatch.setattr(child_module, "WALL_SECONDS", 0.2)
    with pytest.raises(Unreadable, match=r"0\.2 s on the clock"):
        parse(reader, heavy())
    assert late.poll() is not None
    monkeypatch.undo()
    assert parse(reader, plate_bytes()).usable


def test_a_busy_machine_is_not_the_drawings_fault(reader):
    """A child that does not run for a while has used no processor time, and its drawing is read all the same."""
    parse(reader, plate_bytes())
    child = reader._idle[0].process.pid
    os.kill(child, signal.SIGSTOP)
    timer = threading.Timer(0.5, os.kill, (child, signal.SIGCONT))
    timer.start()
    assert parse(reader, plate_bytes()).usable
    timer.join()
    assert child_module.WALL_SECONDS >= 10 * limits.CPU_SECONDS


@pytest.mark.parametrize(
    ("ended_by", "words"), [(signal.SIGXCPU, "processor time"), (signal.SIGKILL, "too much memory")]
)
def test_what_stopped_the_reader_is_said(reader, ended_by, words):
    parse(reader, plate_bytes())
    data = heavy()
    seen = scan(data)
    timer = threading.Timer(0.3, os.kill, (reader._idle[0].process.pid, ended_by))
    timer.start()
    with pytest.raises(Unreadable, match=words):
        reader.parse(data, seen, unit=None, roles=None)
    timer.join()


def test_the_processor_limit_is_a_jobs_own_and_ends_it():
    """Without a clock to help: the child's own limit must end a job that never stops."""
    script = (
        "import ledger.profile.limits as c, time\n"
        "c.CPU_SECONDS = 1\n"
        "for _ in range(4):\n"
        "    c.limit_processor()\n"
        "    t = time.process_time()\n"
        "    while time.process_time() < t + 0.4: pass\n"
        "print('four jobs', flush=True)\n"
        "while True: pass\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], cwd=ROOT, capture_output=True, timeout=30, check=False
    )
    assert done.stdout == b"four jobs\n"
    assert done.returncode == -signal.SIGXCPU


NO_LIMITS = (
    "import sys, time\n"
    "sys.modules['resource'] = None  # as on Windows\n"
    "import ledger.profile.child as c\n"
    "{}\n"
    "c._main()\n"
)


def unlimited(monkeypatch, more=""):
    """A reader whose children know no limits of the system, so that their parent must watch them."""
    command = (sys.executable, "-P", "-c", NO_LIMITS.format(more))
    monkeypatch.setattr(child_module, "_COMMAND", command)


def test_a_child_that_the_system_does_not_limit_is_watched_and_reads_all_the_same(reader, monkeypatch):
    parse(reader, plate_bytes())
    assert not reader._idle[0]._watched
    reader.close()
    unlimited(monkeypatch)
    assert parse(reader, plate_bytes()).usable
    assert reader._idle[0]._watched


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ("def hang(job):\n  while True: pass\nc._job = hang", "processor time"),
        (
            "def eat(job):\n  eaten = []\n  while True: eaten.append(b'x' * 2**25); time.sleep(0.01)\nc._job = eat",
            "too much memory",
        ),
        ("c._job = lambda job: time.sleep(60)", r"1 s on the clock"),
    ],
)
def test_a_watched_child_that_passes_a_limit_is_killed_and_the_next_file_is_read(
    reader, monkeypatch, more, words
):
    monkeypatch.setattr(limits, "CPU_SECONDS", 1 if "processor" in words else 60)
    monkeypatch.setattr(limits, "MEMORY_BYTES", 2**29)
    monkeypatch.setattr(child_module, "WALL_SECONDS", 1 if "clock" in words else 60)
    unlimited(monkeypatch, more)
    began = time.monotonic()
    with pytest.raises(Unreadable, match=words):
        parse(reader, plate_bytes())
    assert time.monotonic() - began < 30
    unlimited(monkeypatch)
    assert parse(reader, plate_bytes()).usable


def test_no_job_is_charged_for_the_one_before_it(reader, monkeypatch):
    monkeypatch.setattr(limits, "CPU_SECONDS", 1)
    slow = "def slow(job, real=c._job):\n  t = time.process_time()\n"
    slow += "  while time.process_time() < t + 0.4: pass\n  return real(job)\nc._job = slow"
    unlimited(monkeypatch, slow)
    assert all(parse(reader, plate_bytes()).usable for _ in range(4))


def test_a_watch_of_a_process_that_has_ended_says_nothing():
    with subprocess.Popen([sys.executable, "-c", "input()"], stdin=subprocess.PIPE) as process:
        watch = limits.Watch.of(process.pid)
        assert watch.exceeded() == ""
        process.stdin.close()
        process.wait()
        assert watch.exceeded() == ""
    assert limits.Watch.of(process.pid) is None


def test_memory_is_limited():
    script = (
        "import ledger.profile.limits as c\n"
        "c.limit_itself()\n"
        "try: bytearray(3 * 1024**3)\n"
        "except MemoryError: print('refused')\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], cwd=ROOT, capture_output=True, timeout=30, check=False
    )
    assert done.stdout == b"refused\n"


def test_the_child_cannot_write_a_file(tmp_path):
    script = (
        "import ledger.profile.limits as c, sys\n"
        "c.limit_itself()\n"
        "with open(sys.argv[1], 'wb', buffering=0) as f: f.write(b'x')\n"
    )
    command = [sys.executable, "-c", script, str(tmp_path / "f")]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, timeout=30, check=False)
    assert b"File too large" in done.stderr
    assert (tmp_path / "f").read_bytes() == b""


def test_the_child_knows_nothing_of_passphrases(monkeypatch):
    monkeypatch.setenv("FITUP_PASSPHRASE_FILE", "/secret")
    assert not any(name.startswith("FITUP") for name in child_module._surroundings(Path("x")))


@pytest.mark.parametrize("folder", ["", ".config/ezdxf"])
def test_settings_of_the_cad_library_that_lie_about_change_nothing(reader, tmp_path, monkeypatch, folder):
    """Its file of settings in the folder one works in, or at home; this one would end it."""
    (tmp_path / folder).mkdir(parents=True, exist_ok=True)
    (tmp_path / folder / "ezdxf.ini").write_text("no settings", encoding="utf-8")
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / ".config"))
    monkeypatch.setattr(child_module, "_KEPT", (*child_module._KEPT, "HOME"))
    monkeypatch.chdir(tmp_path)
    assert parse(reader, plate_bytes()).usable


def test_the_child_finds_what_it_needs_where_there_is_no_home(reader, monkeypatch):
    def homeless(_path):
        raise RuntimeError("Could not determine home directory.")

    monkeypatch.setattr(Path, "expanduser", homeless)
    monkeypatch.delenv("XDG_CACHE_HOME", raising=False)
    assert parse(reader, plate_bytes()).usable


def test_closing_does_not_wait_for_a_job(reader):
    parse(reader, plate_bytes())
    said = []

    def work():
        try:
            parse(reader, heavy())
        except Unreadable as refusal:
            said.append(str(refusal))

    thread = threading.Thread(target=work)
    thread.start()
    while not reader._busy:
        time.sleep(0.01)
    began = time.monotonic()
    reader.close()
    thread.join()
    assert time.monotonic() - began < 4
    assert "stopped" in said[0]


def test_the_child_ends_when_its_input_ends():
    child = Child()
    child.process.stdin.close()
    assert child.process.wait(timeout=10) == 0
    child.process.stdout.close()


def test_the_child_ends_when_its_parent_is_killed():
    script = (
        "import sys, time\n"
        "from ledger.profile.child import Child\n"
        "print(Child().process.pid, flush=True)\n"
        "time.sleep(60)\n"
    )
    with subprocess.Popen([sys.executable, "-c", script], cwd=ROOT, stdout=subprocess.PIPE) as parent:
        pid = int(parent.stdout.readline())
        assert Path(f"/proc/{pid}").exists() or not Path("/proc").exists()
        parent.kill()
    for _ in range(100):
        try:
            if Path(f"/proc/{pid}/stat").read_text(encoding="utf-8").split()[2] == "Z":
                return
        except OSError:
            return
        time.sleep(0.1)
    pytest.fail("the child outlived its parent by ten seconds")


def test_nothing_reaches_the_terminal(capfd):
    read_profile(plate_bytes())
    with pytest.raises(Unreadable):
        read_profile(raw("0\nLINE\n8\n\x1b[31m\n"))
    assert capfd.readouterr() == ("", "")


def test_the_child_has_no_terminal_and_writes_only_answers():
    child = Child()
    try:
        fds = Path(f"/proc/{child.process.pid}/fd")
        if not fds.exists():
            pytest.skip("no /proc here")
        assert str((fds / "1").readlink()) == "/dev/null"
        assert str((fds / "2").readlink()) == "/dev/null"
        assert os.getsid(child.process.pid) == child.process.pid
    finally:
        child.close()


@pytest.mark.parametrize(
    "script", ["pass", "print('x' * 100)", "import sys; sys.stdout.buffer.write(b'\\xff' * 8)"]
)
def test_a_child_that_answers_nonsense_or_nothing_is_gone(monkeypatch, script):
    real = subprocess.Popen

    def other(_command, **how):
        return real([sys.executable, "-c", script], **how)

    monkeypatch.setattr(child_module.subprocess, "Popen", other)
    with pytest.raises(Gone):
        Child()


def test_a_child_that_never_says_it_is_ready_is_late(monkeypatch):
    real = subprocess.Popen
    monkeypatch.setattr(child_module, "START_SECONDS", 0.3)
    monkeypatch.setattr(
        child_module.subprocess,
        "Popen",
        lambda _command, **how: real([sys.executable, "-c", "import time; time.sleep(60)"], **how),
    )
    with pytest.raises(Late):
        Child()


def test_threads_share_two_children_and_each_gets_its_own_answer(reader):
    sizes = list(range(20, 60))
    found = {}

    def work(size):
        found[size] = parse(reader, raw(box(0, 0, size, 10))).size_mm

    threads = [threading.Thread(target=work, args=(size,)) for size in sizes]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert found == {size: (size, 10) for size in sizes}
    assert 1 <= len(reader._idle) <= pool.POOL
    assert sum(child.jobs for child in reader._idle) == len(sizes)


def test_many_files_are_read_in_their_order_and_a_broken_one_is_refused_alone():
    files = [raw(box(0, 0, size, 10)) for size in (20, 30, 40)]
    first, refused, last = read_profiles([files[0], b"no drawing", files[2]])
    assert (first.size_mm, last.size_mm) == ((20, 10), (40, 10))
    assert isinstance(refused, Unreadable)


def test_the_same_bytes_are_read_once_and_other_words_about_them_again(monkeypatch):
    data = raw(box(0, 0, 73, 10))
    once.forget()
    first = read_profile(data)
    monkeypatch.setattr(pool.reader, "parse", lambda *_args, **_how: pytest.fail("read again"))
    assert read_profile(data) is first
    monkeypatch.undo()
    assert read_profile(data, unit="in").size_mm == pytest.approx((73 * 25.4, 254))
    assert read_profile(data, roles={"0": "mark"}).outline is None


def test_what_is_kept_is_bounded_by_the_bytes_it_was_read_from():
    kept = Once(most_bytes=100)
    profile = read_profile(plate_bytes())
    keys = [Once.key(bytes([k]), None, None, "1") for k in range(3)]
    for key in keys:
        kept.put(key, profile, 40)
    assert [kept.get(key) is None for key in keys] == [True, False, False]
    kept.put(keys[1], profile, 40)
    assert kept.get(keys[2]) is profile


def test_a_forked_copy_starts_a_child_of_its_own(reader):
    parse(reader, plate_bytes())
    mine = reader._idle[0].process.pid
    read_end, write_end = os.pipe()
    pid = os.fork()
    if pid == 0:
        fine = parse(reader, plate_bytes()).usable and reader._idle[0].process.pid != mine
        reader._idle[0].process.kill()
        os.write(write_end, b"y" if fine else b"n")
        os._exit(0)
    os.close(write_end)
    assert os.read(read_end, 1) == b"y"
    os.close(read_end)
    os.waitpid(pid, 0)
    assert parse(reader, plate_bytes()).usable
    assert reader._idle[0].process.pid == mine


def test_an_unknown_unit_is_bad_input_and_costs_no_child(reader):
    data = plate_bytes()
    with pytest.raises(BadInput):
        reader.parse(data, scan(data), unit="furlong", roles=None)
    assert parse(reader, data).usable
    with pytest.raises(BadInput):
        read_profile(data, unit="furlong")
    with pytest.raises(BadInput):
        read_profile(data, roles={"0": "burn"})


def test_the_protocol_counts_eight_bytes():
    assert framed(b"abc") == b"\0\0\0\0\0\0\0\3abc"


def answer(**changes):
    profile = read(raw(box(0, 0, 100, 60), circle(20, 20, 4), line(10, 10, 20, 10))).to_json()
    return json.loads(json.dumps(profile | changes))


def test_a_sound_answer_is_believed():
    assert codes(recheck(answer())) == {"open_contour"}


@pytest.mark.parametrize(
    "changes",
    [
        {
            "holes": [
                {
                    "label": "H1",
                    "core": [[0, 0]],
                    "diameter_mm": float("nan"),
                    "made_of": "circle",
                    "departure_mm": 0,
                }
            ]
        },
        {
            "holes": [
                {"label": "H1", "core": [[0, 0]], "diameter_mm": -1, "made_of": "circle", "departure_mm": 0}
            ]
        },
        {
            "holes": [
                {"label": "H1", "core": [[0, 0]], "diameter_mm": 1, "made_of": "cheese", "departure_mm": 0}
            ]
        },
        {
            "holes": [
                {"label": "\x1b", "core": [[0, 0]], "diameter_mm": 1, "made_of": "circle", "departure_mm": 0}
            ]
        },
        {"outline": {"vertices": [[0, 0, 0]], "chord_error_mm": 0}},
        {
            "outlines": [{"vertices": [[1e9, 0, 0], [0, 1, 0], [0, 0, 0]], "chord_error_mm": 0}],
            "outline": None,
        },
        {"layers": ["\u202e"]},
        {"unit_used": "furlong"},
        {"unit_sure": "yes"},
        {"findings": [{"code": "x", "message": "m", "severity": "joke"}]},
        {"findings": [{"code": "x", "message": "m", "severity": "stop", "extra": 1}]},
    ],
)
def test_an_answer_that_cannot_be_is_refused(changes):
    with pytest.raises((KeyError, TypeError, ValueError)):
        recheck(answer(**changes))


def test_an_answer_that_lacks_a_part_is_refused():
    whole = answer()
    for key in whole:
        with pytest.raises((KeyError, TypeError, ValueError)):
            recheck({k: v for k, v in whole.items() if k != key})
