"""What the distances of a part say, in one value: the solution, which reading is off, which slip may go unseen."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from ledger.domain.errors import BadInput
from ledger.domain.record import Part
from ledger.survey.blame import Off, off_readings
from ledger.survey.of_part import solution_of
from ledger.survey.reliability import Unseen, unseen_slip
from ledger.survey.worth import Solution


@dataclass(frozen=True, slots=True)
class SurveyOfPart:
    """The part's number, its network solved, and what is to be said of single readings."""

    number: str
    solution: Solution
    off: Off | None
    unseen: Unseen | None

    @property
    def sound(self) -> bool:
        """Whether the points are settled and the readings agree."""
        return self.solution.settled and self.solution.agrees

    def to_json(self) -> dict[str, Any]:
        """Plain values for JSON; lengths in mm."""
        solution, off, unseen = self.solution, self.off, self.unseen
        return {
            "part": self.number,
            "settled": solution.settled,
            "free": list(solution.free),
            "mirrored": [list(g) for g in solution.images],
            "mirror": solution.mirror,
            "points": [
                {"point": p.name, "at_mm": list(p.at_mm), "u_mm": p.u_shape_mm, "u_datum_mm": p.u_datum_mm}
                for p in solution.points
            ],
            "readings": [
                {
                    "reading": x.reading.words,
                    "left_mm": x.left_mm,
                    "checked": x.share,
                    "sigmas": x.times_sigma,
                }
                for x in solution.left
            ],
            "redundancy": solution.redundancy,
            "chi_square": solution.chi_square,
            "agrees": solution.agrees,
            "off": {"words": off.words, "certain": off.certain} if off else None,
            "unseen": unseen
            and {
                "reading": unseen.reading.words,
                "slip_mm": unseen.slip_mm,
                "point": unseen.point,
                "moves_mm": unseen.moves_mm,
            },
        }


def survey_of(part: Part) -> SurveyOfPart:
    """The network of a part solved and looked at. Raises BadInput where it has no distances, or none that solve."""
    solution = solution_of(part)
    if solution is None:
        raise BadInput(f"{part.number} has no distances yet: record one with fitup distance")
    off = off_readings(solution) if solution.points else None
    return SurveyOfPart(part.number, solution, off, unseen_slip(solution))
