"""A file that shows how something is known: a photograph, a certificate, kept by its bytes with what it belongs to."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any, Final, Literal, get_args

Belongs = Literal["part", "question", "reading", "order"]
BELONGS: Final[tuple[str, ...]] = get_args(Belongs)
MOST_BYTES: Final = 25_000_000
_PICTURES: Final = (".jpg", ".jpeg", ".png", ".webp", ".gif", ".bmp", ".tif", ".tiff")
_KB: Final = 1000


@dataclass(frozen=True, slots=True)
class Evidence:
    """
    One kept file. It belongs to a part, a question of a part, the reading of a clearance of a connection, or an order;
    `owner` is the part, connection or order, `name` the question or clearance.
    """

    to: str
    owner: str
    name: str
    file: str
    sha256: str
    size: int
    by: str
    day: str

    @property
    def address(self) -> str:
        """What it belongs to, as it is named: `BASE`, `BASE/Q1`, `TURN-BASE/edge`, `O1`."""
        return f"{self.owner}/{self.name}" if self.name else self.owner

    @property
    def is_picture(self) -> bool:
        """Whether its name is that of a picture."""
        return self.file.lower().endswith(_PICTURES)

    @property
    def words(self) -> str:
        """`BASE/Q1: caliper.jpg (41 kB, Mira, 2026-03-02)`."""
        return f"{self.address}: {self.file} ({max(1, self.size // _KB)} kB, {self.by}, {self.day})"

    def to_json(self) -> dict[str, Any]:
        """Plain values for JSON."""
        return {**asdict(self), "address": self.address}
