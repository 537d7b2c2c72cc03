"""
The verbs that need no open job: what is in files, and what is written to them. The faces' second door, beside the job.

Everything heavy is imported where it is called, so that `--help` answers at once.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO

if TYPE_CHECKING:
    from ledger.checks._frame import Check
    from ledger.clean_copy import Choices, Mended
    from ledger.comparison.advice import Advice
    from ledger.comparison.look import Look
    from ledger.comparison.two_files import Comparison
    from ledger.domain.drawing import Drawing
    from ledger.domain.shape import Contour
    from ledger.fit.case import Wrong
    from ledger.packet.build import Staged
    from ledger.release.custody import Examined
    from ledger.release.packets import PacketStanding

__all__ = [
    "Advice",
    "Choices",
    "Comparison",
    "Examined",
    "Look",
    "Mended",
    "PacketStanding",
    "Wrong",
    "all_checks",
    "by_itself",
    "choices",
    "compare",
    "comparison_to_json",
    "examine",
    "grants",
    "look",
    "mended",
    "not_checked",
    "opening_to_json",
    "picture",
    "read_piped_table",
    "read_regular",
    "scan",
    "seal",
    "stage_packet",
    "take_out",
    "write_whole",
]


def read_regular(path: str | Path) -> bytes:
    """The bytes of a regular file that somebody names. Raises Unreadable."""
    from ledger import intake

    return intake.read_regular(path)


def evidence_files(paths: Sequence[str]) -> dict[str, bytes]:
    """Files to be kept as evidence, by their names. Raises Unreadable; BadInput for two of one name."""
    from ledger import intake
    from ledger.domain.errors import BadInput
    from ledger.domain.evidence import MOST_BYTES

    found: dict[str, bytes] = {}
    for path in paths:
        name = Path(path.replace("\\", "/")).name
        if name in found:
            raise BadInput(f"two files are called {name}; give one another name")
        found[name] = intake.read_regular(Path(path).expanduser(), most=MOST_BYTES)
    return found


def read_piped_table(pipe: BinaryIO) -> bytes:
    """A table from a pipe; of a longer one as much as shows that it is too long."""
    from ledger.tables.text import MOST_BYTES

    return pipe.read(MOST_BYTES + 1)


def look(file: str, data: bytes, *, unit: str | None = None, roles: Mapping[str, str] | None = None) -> Look:
    """What the reader makes of one DXF file. Raises Unreadable, BadInput."""
    from ledger.comparison import look as looking

    return looking.look(file, data, unit=unit, roles=roles)


def compare(a: Look, b: Look, **asked: Any) -> Advice:
    """Whether the hole patterns of two files go together, with what there is to say of it. Raises BadInput."""
    from ledger.comparison.advice import Advice
    from ledger.comparison.two_files import compare

    return Advice(compare(a, b, **asked))


def comparison_to_json(advice: Advice) -> dict[str, Any]:
    """A comparison as plain values for programs."""
    from ledger.comparison import rows

    return rows.comparison_to_json(advice)


def not_checked() -> tuple[str, ...]:
    """What a comparison of two files does not look at."""
    from ledger.comparison import rows

    return tuple(rows.NOT_CHECKED)


def opening_to_json(ring: Contour) -> dict[str, float]:
    """Place and size of an opening, mm."""
    from ledger.comparison import look as looking

    return looking.opening_to_json(ring)


def choices(**said: Any) -> Choices:
    """What the user said about a drawing that is to be copied clean."""
    from ledger.clean_copy import Choices

    return Choices(**said)


def mended(data: bytes, said: Choices) -> Mended:
    """A clean copy of a drawing. Raises BadInput for what a copy cannot decide."""
    from ledger import clean_copy

    return clean_copy.mended(data, said)


def scan(data: bytes) -> None:
    """Refuse what is no DXF file that can be read. Raises Unreadable."""
    from ledger.profile import scan as scanning

    scanning.scan(data)


def by_itself(data: bytes) -> PacketStanding:
    """A packet proven without a job. Raises Unreadable."""
    from ledger.release import packets

    return packets.by_itself(data)


def examine(place: str, since: str = "") -> Examined:
    """Verify a job without opening it for use. Raises BadInput, Unreadable, Tampered."""
    from ledger.release import custody

    return custody.examine(place, since=since)


def grants(role: str) -> str:
    """SQL for a role that may only add to a job on a server. Raises BadInput."""
    from ledger.store import grants as granting

    return granting.grants(role)


def all_checks() -> tuple[Check, ...]:
    """Every check, with its source and codes."""
    from ledger import checks

    return checks.all_checks()


def write_whole(path: Path, data: bytes) -> None:
    """A new file, whole or not at all. Raises BadInput."""
    from ledger.packet import build

    build.write_whole(path, data)


def stage_packet(out: Path, name: str, data: bytes, drawings: Mapping[str, bytes]) -> tuple[Staged, ...]:
    """A packet and its drawings, written beside their places and waiting to be committed. Raises BadInput."""
    from ledger.packet import build

    return build.stage_packet(out, name, data, drawings)


def take_out(place: str, out: Path) -> str:
    """Export the job at a place, even one that is not intact; its seal. Raises BadInput, Unreadable."""
    from ledger.release import custody

    return custody.take_out(place, out)


def picture(drawing: Drawing, kind: str) -> bytes:
    """A drawing as `svg` or `png`. Raises BadInput for another kind."""
    from ledger.papers import pictures

    return pictures.picture(drawing, kind)


def seal(place: str) -> tuple[int, str]:
    """Number and hash of the newest entry of the job at a place. Raises Unreadable."""
    from ledger.release import custody

    return custody.seal(place)
