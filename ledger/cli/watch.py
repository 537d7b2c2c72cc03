"""The command that watches the folders of drawings: what was saved, what differs, what its part would be."""

from __future__ import annotations

import argparse
from pathlib import Path
from threading import Event
from typing import TYPE_CHECKING

from ledger.cli.context import as_json, by, open_job
from ledger.cli.show import say, show_json
from ledger.domain.errors import BadInput, FitupError, visible
from ledger.domain.plural import counted

if TYPE_CHECKING:
    from ledger.job import Job, Saved


def watch(args: argparse.Namespace) -> int:
    """One line for each file, as it is saved; with --once for those that differ now."""
    with open_job(args) as job:
        folders = tuple(map(Path, args.paths)) or job.drawing_folders()
        if not folders:
            raise BadInput("which folder? no drawing was taken from one yet: fitup watch FOLDER")
        wrong = [f for f in folders if not f.is_dir()]
        if wrong and args.paths:
            raise BadInput(
                f"{visible(str(wrong[0]))} is no folder; expected the folder that drawings are saved in"
            )
        return _once(args, job, folders) if args.once else _until_stopped(args, job, folders)


def _once(args: argparse.Namespace, job: Job, folders: tuple[Path, ...]) -> int:
    found = [s for s in job.saved_drawings([f for f in folders if f.is_dir()]) if s.state != "taken"]
    for saved in found:
        _tell(args, job, saved)
    if not found and not as_json(args):
        say(f"nothing differs from what was taken in {counted(len(folders), 'folder')}")
    return int(bool(found))


def _until_stopped(args: argparse.Namespace, job: Job, folders: tuple[Path, ...]) -> int:
    if not as_json(args):
        say(f"watching {', '.join(str(f) for f in folders)}; Ctrl+C ends it")
    try:
        for saved in job.watch(folders, Event()):
            _tell(args, job, saved)
    except KeyboardInterrupt:
        if not as_json(args):
            say("no longer watching")
    return 0


def _tell(args: argparse.Namespace, job: Job, saved: Saved) -> None:
    """What was found; with --take it is taken where it can be."""
    taken, why = False, ""
    if args.take and saved.can_be_taken:
        try:
            job.take_saved([saved], by=by(args))
            taken = True
        except FitupError as fault:
            why = str(fault)
    if as_json(args):
        show_json({**saved.to_json(), "taken": taken, "not_taken": why or None})
        return
    said = "; taken" if taken else f"; not taken: {why}" if why else ""
    say(f"{saved.words}{said}")
