"""A comparison as faces give it to programs: plain values, mm and degrees."""

from __future__ import annotations

from typing import Any

from ledger.comparison.advice import Advice
from ledger.comparison.two_files import Comparison

NOT_CHECKED = (
    "outlines, openings and whatever else is in the files: this is about holes only",
    "plate thickness, bends, threads, and room for heads, washers and wrenches",
    "whether the parts carry a load safely: a licensed engineer and local codes decide that",
)


def comparison_to_json(advice: Advice) -> dict[str, Any]:
    """Everything that is known of a comparison, with what is said beside it, as plain values for JSON."""
    c = advice.of
    f, wrong_way = c.fit, advice.warning()
    pose = f.pose and {
        "angle_deg": f.pose.angle_deg,
        "x_mm": f.pose.x_mm,
        "y_mm": f.pose.y_mm,
        "turned_over": f.pose.turned_over,
    }
    return {
        "verdict": c.ruling.verdict,
        "code": f.code,
        **_ruled(c),
        "margin_mm": f.margin_mm,
        "worst_case_margin_mm": f.worst_case_margin_mm,
        "worst_case_of": c.process,
        "thickness_mm": c.thickness_mm,
        "thickness_stated": c.thickness_stated,
        "pose": pose,
        "pairs": [
            {
                "a": p.a,
                "b": p.b,
                "offset_mm": p.offset_mm,
                "allowed_mm": p.allowed_mm,
                "margin_mm": p.margin_mm,
            }
            for p in f.pairs
        ],
        "wrong": [
            {
                "a": w.a,
                "b": w.b,
                "kind": w.kind,
                "offset_mm": w.offset_mm,
                "allowed_mm": w.allowed_mm,
                "move_a_mm": list(w.move_a_mm) if w.move_a_mm else None,
                "move_b_mm": list(w.move_b_mm) if w.move_b_mm else None,
            }
            for w in f.wrong
        ],
        "headline": c.headline,
        "fault": c.fault and {"kind": c.fault.kind, "text": c.fault.text, "fix": c.fault.fix},
        "unmatched": {"a": list(f.unmatched_a), "b": list(f.unmatched_b)},
        "left_over": {"a": list(f.left_over[0]), "b": list(f.left_over[1])},
        "better_position": f.rival
        and {
            "angle_deg": f.rival.pose.angle_deg,
            "x_mm": f.rival.pose.x_mm,
            "y_mm": f.rival.pose.y_mm,
            "turned_over": f.rival.pose.turned_over,
            "passing": f.rival.passing,
            "off": [list(p) for p in f.rival.off],
            "most_mm": f.rival.most_mm,
        },
        "left_out": {"a": list(c.left_out[0]), "b": list(c.left_out[1])},
        "ways": f.ways,
        "proven": f.proven,
        "tightest": list(f.tightest) if f.tightest else None,
        "either_or": [[w.a for w in them] for them in f.also_wrong],
        "falls_through": list(c.falls_through),
        "advice": list(advice.whole()),
        "assembled_wrong": wrong_way and {"how": wrong_way[0], "prevented_by": wrong_way[1]},
        "assemblies": [
            {
                "angle_deg": w.pose.angle_deg,
                "turned_over": w.pose.turned_over,
                "margin_mm": w.margin_mm,
                "pairs": [list(p) for p in w.pairs],
            }
            for w in f.assemblies
        ],
        "fastener": c.fastener,
        "also": list(c.also),
        "assumed": c.assumed,
        "joint": c.joint,
        "notes": [*f.notes, *advice.remarks],
        "not_checked": list(NOT_CHECKED),
    }


def _ruled(c: Comparison) -> dict[str, Any]:
    """What the verdict rests on."""
    r = c.ruling
    return {
        "decided_by": r.basis,
        "required": r.required,
        "odds": r.odds
        and {
            "at_least": round(r.odds.low, 6),
            "estimate": round(r.odds.share, 6),
            "lots": r.odds.lots,
            "undecided": r.odds.undecided,
        },
        "no_odds": r.no_odds,
        "larger_holes_by_mm": r.larger_mm,
        "takes_most": r.loss and {"a": r.loss.a, "b": r.loss.b, "margin_mm": r.loss.gain_mm},
    }
