"""Nothing that only one kind of system has is needed to import anything, to read a drawing or to run a command."""

from __future__ import annotations

import ast
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from raw_dxf import box, circle, raw

from ledger.domain import file_names
from ledger.domain.errors import BadInput, Unreadable
from ledger.domain.file_names import refused_by_windows, require_a_file_name, stem
from ledger.intake import read_regular
from ledger.packet.build import stage, write_whole

ROOT = Path(__file__).parents[2]
PLATE = raw(box(0, 0, 73, 10), circle(20, 5, 2))
# What Windows lacks, and what of that the libraries themselves need where they run on another system.
MODULES = {"fcntl", "resource", "pwd", "grp", "termios", "tty", "pty", "readline", "syslog"}
CALLS = {
    "os": {
        "fork", "forkpty", "register_at_fork", "setsid", "getsid", "killpg", "set_blocking", "getuid", "geteuid",
        "getgid", "mkfifo", "nice", "sysconf", "O_NONBLOCK", "O_NOCTTY", "O_DIRECTORY", "O_NOFOLLOW", "O_CLOEXEC",
        "sync", "statvfs", "chown", "ttyname", "posix_spawn", "memfd_create", "uname", "WIFEXITED", "sched_getaffinity",
    },
    "signal": {
        "SIGHUP", "SIGXCPU", "SIGKILL", "SIGUSR1", "SIGUSR2", "SIGSTOP", "SIGCONT", "SIGPIPE", "SIGALRM", "SIGWINCH",
        "SIGTSTP", "SIGQUIT", "alarm", "setitimer", "pthread_sigmask",
    },
    "select": {"poll", "epoll", "kqueue"},
    "selectors": {"PollSelector", "EpollSelector"},
}  # fmt: skip
OF_LIBRARIES = {"SIGKILL", "uname", "getuid", "geteuid"}
NOT_POSIX = f"""
import os, select, selectors, signal, sys, time
for name in {sorted(MODULES)}:
    sys.modules[name] = None
for module, names in {[(m, sorted(n - OF_LIBRARIES)) for m, n in CALLS.items()]}:
    for name in names:
        if hasattr(sys.modules[module], name):
            delattr(sys.modules[module], name)
"""


def ran(code, *words, **surroundings):
    return subprocess.run(
        [sys.executable, "-c", code, *words],
        cwd=ROOT,
        env=os.environ | surroundings,
        capture_output=True,
        timeout=120,
        check=False,
    )


def test_no_call_that_only_posix_has_is_named_but_where_it_is_asked_for_first():
    named = [
        (path.name, node.lineno, node.attr)
        for room in ("ledger", "tui")
        for path in sorted((ROOT / room).rglob("*.py"))
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name)
        if node.attr in CALLS.get(node.value.id, ())
    ]
    assert {(file, name) for file, _, name in named} == {
        ("pool.py", "register_at_fork"),
        ("leaving.py", "poll"),
    }


def test_every_module_is_imported_where_no_posix_call_is_to_be_had():
    code = NOT_POSIX + (
        "import importlib, pkgutil, ledger, tui\n"
        "rooms = [pkgutil.walk_packages(room.__path__, room.__name__ + '.') for room in (ledger, tui)]\n"
        "names = [module.name for room in rooms for module in room]\n"
        "for name in names: importlib.import_module(name)\n"
        "print(len(names))\n"
    )
    done = ran(code)
    assert done.stderr.decode() == ""
    assert int(done.stdout) > 400


def test_a_drawing_is_read_and_a_hostile_one_refused_where_no_posix_call_is_to_be_had(tmp_path):
    """Parent and child without them; the child hangs, and is ended by its parent alone."""
    code = (
        "import psutil\n"
        + NOT_POSIX
        + (
            "from ledger.profile import child, limits\n"
            "from ledger.profile.read import read_profile\n"
            "from ledger.domain.errors import Unreadable\n"
            "limits.CPU_SECONDS = 1\n"
            f"hidden = {NOT_POSIX!r} + 'import ledger.profile.child as c\\n'\n"
            "child._COMMAND = (sys.executable, '-P', '-c', hidden + 'c._main()')\n"
            "data = open(sys.argv[1], 'rb').read()\n"
            "print(read_profile(data).size_mm)\n"
            "from ledger.profile.pool import reader\n"
            "reader.close()\n"
            "child._COMMAND = (sys.executable, '-P', '-c', hidden + 'def hang(job):\\n  while True: pass\\n'\n"
            "    'c._job = hang\\nc._main()')\n"
            "try: read_profile(data, unit='in')\n"
            "except Unreadable as fault: print(fault)\n"
        )
    )
    file = tmp_path / "plate.dxf"
    file.write_bytes(PLATE)
    done = ran(code, str(file))
    assert done.stderr.decode() == ""
    size, refused = done.stdout.decode().splitlines()
    assert size == "(73.0, 10.0)"
    assert "processor time" in refused


def test_a_command_runs_where_no_posix_call_is_to_be_had(tmp_path):
    code = NOT_POSIX + "sys.argv = ['fitup', *sys.argv[1:]]\nfrom tui.start import main\nmain()\n"
    place = str(tmp_path / "j.db")
    assert ran(code, "--job", place, "start", "Pier mount", "--by", "Mira").returncode == 0
    done = ran(code, "--job", place, "part", "BASE", "--material", "S275", "--by", "Mira")
    assert (done.returncode, done.stderr) == (0, b"")


def test_nobodys_name_is_asked_for_where_no_list_of_users_is_to_be_had(tmp_path):
    """Windows without USERNAME."""
    code = NOT_POSIX + "sys.argv = ['fitup', *sys.argv[1:]]\nfrom tui.start import main\nmain()\n"
    place = str(tmp_path / "j.db")
    assert ran(code, "--job", place, "start", "Pier mount", "--by", "Mira").returncode == 0
    nobody = dict.fromkeys(("LOGNAME", "USER", "LNAME", "USERNAME", "FITUP_BY"), "")
    done = ran(code, "--job", place, "part", "BASE", **nobody)
    assert done.returncode == 2
    assert b"your name is missing" in done.stderr


@pytest.mark.parametrize("encoding", ["cp1252", "cp437", "ascii", "utf-16"])
def test_json_is_utf_8_on_every_console_and_words_end_no_command(tmp_path, encoding):
    file = tmp_path / "Platte ±.dxf"
    file.write_bytes(PLATE)
    code = "import sys\nsys.argv = ['fitup', *sys.argv[1:]]\nfrom tui.start import main\nmain()\n"
    done = ran(code, "look", str(file), "--json", PYTHONIOENCODING=encoding, PYTHONUTF8="0")
    assert "±" in json.dumps(json.loads(done.stdout.decode("utf-8")), ensure_ascii=False)
    done = ran(
        code, "look", str(tmp_path / "none ≥.dxf"), "--json", PYTHONIOENCODING=encoding, PYTHONUTF8="0"
    )
    assert "≥" in json.loads(done.stdout.decode("utf-8"))["error"]["message"]
    done = ran(code, "look", str(file), PYTHONIOENCODING=encoding, PYTHONUTF8="0")
    assert (done.returncode, done.stderr) == (0, b"")


REFUSED = (
    "CON", "con.svg", "out/NUL", r"out\prn.dxf", "COM1.pdf", "lpt9", "COM².txt", "aux .dxf", "CONIN$", "out/a:b.dxf",
    r"C:\jobs\a:b.dxf", "plate.", "plate ", "jobs /a.dxf", "a?.dxf", "a*.dxf", 'a".dxf', "a|b", "a<b", "tab\t.dxf",
)  # fmt: skip
TAKEN = (
    "plate.dxf", "console.svg", r"C:\jobs\plate.dxf", r"\\server\share\plate.dxf", "../out/plate.dxf", ".", "..",
    "a.b.c", "COM10.dxf", "ARM-L 2.dxf", "Grundplatte ä.dxf", "C:plate.dxf", "./out//x.zip", "nulls",
)  # fmt: skip


@pytest.mark.parametrize("path", REFUSED)
def test_a_path_that_windows_takes_for_something_else_is_refused_there(path, monkeypatch):
    assert refused_by_windows(path)
    monkeypatch.setattr(file_names, "_ON_WINDOWS", True)
    with pytest.raises(BadInput, match="name another file"):
        require_a_file_name(Path(path))
    monkeypatch.setattr(file_names, "_ON_WINDOWS", False)
    require_a_file_name(Path(path))


@pytest.mark.parametrize("path", TAKEN)
def test_a_path_that_windows_takes_is_taken(path):
    assert refused_by_windows(path) == ""


@pytest.mark.parametrize(
    "text", ["CON", "a/b", "..", "A:1", "aux.x", "Ø 12", "plate.", "", "com1", "NUL.tar", "x" * 300]
)
def test_a_file_about_anything_has_a_name_that_every_system_takes(text):
    made = stem(text, otherwise="part")
    assert made
    assert refused_by_windows(f"{made}.svg") == ""
    assert Path(made).name == made


class Held(PermissionError):
    """What Windows says where another program has the file open."""

    winerror = 32


def test_a_file_that_another_program_has_open_is_left_and_said_to_be(tmp_path, monkeypatch):
    out = tmp_path / "sheet.pdf"
    out.write_bytes(b"as it was")

    def held(*_):
        raise Held(13, "The process cannot access the file because it is being used by another process")

    staged = stage(out, b"new")
    monkeypatch.setattr(Path, "replace", held)
    with pytest.raises(BadInput, match="close the program that has it open"):
        staged.commit()
    with pytest.raises(BadInput, match="nothing was left there; close the program that has it open"):
        write_whole(out, b"new")
    monkeypatch.undo()
    assert [p.name for p in tmp_path.iterdir()] == ["sheet.pdf"]
    assert out.read_bytes() == b"as it was"

    monkeypatch.setattr(os, "open", held)
    with pytest.raises(Unreadable, match="close the program that has it open"):
        read_regular(out)
