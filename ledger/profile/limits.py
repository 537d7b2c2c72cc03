"""
What a child of the reader may use, and who holds it to that.

The system does where it can (setrlimit(2)): then a child ends itself in the middle of a loop in C. Windows has no such
limits and macOS holds nobody to that of memory, so there the parent looks every `LOOK_SECONDS` at what the child has
used (psutil) and ends it. No byte into any file is a limit that only the system can hold.
"""

from __future__ import annotations

import signal
import sys
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import psutil

CPU_SECONDS = 5
MEMORY_BYTES = 2 * 1024**3
LOOK_SECONDS = 0.05
OUT_OF_TIME = -int(
    getattr(signal, "SIGXCPU", 0)
)  # the exit code of one that the system ended; none on Windows


def limit_itself() -> bool:
    """
    No more than MEMORY_BYTES, no core dump, and not a byte into any file, for this process from now on.

    Whether the system holds it to its memory and its processor time; where not, the parent must.
    """
    try:
        import resource
    except ModuleNotFoundError:  # Windows
        return False
    resource.setrlimit(resource.RLIMIT_FSIZE, (0, 0))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    if sys.platform == "darwin":  # setrlimit refuses RLIMIT_AS there, or takes it for nothing (from memory)
        return False
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY_BYTES, MEMORY_BYTES))
    return True


def limit_processor() -> None:
    """The system's limit counts from the start of a process, so each job moves it on by what one job may use."""
    try:
        import resource
    except ModuleNotFoundError:
        return
    used = resource.getrusage(resource.RUSAGE_SELF)
    limit = int(used.ru_utime + used.ru_stime) + 1 + CPU_SECONDS
    resource.setrlimit(resource.RLIMIT_CPU, (limit, resource.getrlimit(resource.RLIMIT_CPU)[1]))


@dataclass(frozen=True, slots=True)
class Watch:
    """What another process, has used since the watch began, where nobody else counts it."""

    process: psutil.Process
    before_s: float

    @staticmethod
    def of(pid: int) -> Watch | None:
        """A watch that begins now; None where the process has ended."""
        import psutil

        try:
            process = psutil.Process(pid)
            return Watch(process, _seconds(process))
        except psutil.Error:
            return None

    def exceeded(self) -> str:
        """Which limit was passed, `processor` or `memory`; empty where none, or where the process has ended."""
        import psutil

        try:
            if _seconds(self.process) - self.before_s > CPU_SECONDS:
                return "processor"
            memory = self.process.memory_info()
        except psutil.Error:
            return ""
        return "memory" if getattr(memory, "private", memory.rss) > MEMORY_BYTES else ""


def _seconds(process: psutil.Process) -> float:
    used = process.cpu_times()
    return float(used.user + used.system)
