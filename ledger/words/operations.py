"""What is done to holes after cutting, in one line."""

from __future__ import annotations

from collections.abc import Sequence

from ledger.domain.errors import BadInput, UnknownName
from ledger.domain.record import OPERATIONS
from ledger.words.forms import OPERATION
from ledger.words.line import Line, reads


@reads(OPERATION)
def operation_line(text: str) -> Line:
    """`H1 H2: tapped M8`."""
    holes, colon, rest = (piece.strip() for piece in text.partition(":"))
    labels = tuple(holes.replace(",", " ").split())
    if not (colon and labels and rest):
        raise BadInput(f"expected {OPERATION.hint}")
    operation = next((f for f in OPERATIONS if rest == f or rest.startswith(f"{f} ")), "")
    if not operation:
        raise UnknownName("hole operation", rest.partition(" ")[0], OPERATIONS)
    thread = rest.removeprefix(operation).strip()
    if thread:
        from ledger.standards.fasteners import fastener

        fastener(thread)
    elif operation == "tapped":
        raise BadInput("thread missing; expected one, such as tapped M8")
    words = f"{', '.join(labels)}: {operation} {thread}".strip()
    return Line({"labels": labels, "operation": operation, "thread": thread}, words)


def operation_words(labels: Sequence[str], operation: str, thread: str) -> str:
    """What is done to holes as the line that would enter it."""
    return f"{' '.join(labels)}: {operation} {thread}".rstrip()
