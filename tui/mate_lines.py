"""
How a mate is said in one line, and read from it.

`TURN to BASE: bolted M12 through, TURN bolts on BASE bolts` and behind it, each after a comma, what applies:
`turned over`, `either way up`, `at X Y ANGLE` (or `at pins`, `at left on left`), `also M6 dowel PINS on PINS`,
`gap >= 2 mm` (of a weld the root gap), and of a weld `arrow side`, `other side`, `both sides`, `weldment B`,
`holes jigged`, `holes drilled after`. A ply is PART, then its hole group, then the face that is up (top, bottom, edge)
where it is not the top.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import asdict
from typing import Any

from ledger.domain.errors import BadInput, UnknownName
from ledger.domain.located import read_also, read_located
from ledger.domain.mated import HOLES_MADE, JOINTS, MATE_KINDS, WELD_SIDES, Mate
from ledger.domain.quantity import read_bounds, read_length
from ledger.standards.weldments import CLASSES
from tui.lines import Line

MATE_HINT = "NAME: KIND FASTENER JOINT, PART GROUP on PART GROUP (empty: the form)"
FACES = ("top", "bottom", "edge")
FLIP_WORDS = {"no": "as drawn", "yes": "turned over", "either": "either way up"}
_FLIPS = {words: flip for flip, words in FLIP_WORDS.items()}
WELD_FIELDS = ("weld_side", "weldment", "holes_made")
_BOTH = 2


def mate_line(text: str, parts: Collection[str]) -> Line:
    """The fields of a declared mate; `parts` are the numbers that are known. Raises BadInput."""
    name, colon, rest = (piece.strip() for piece in text.partition(":"))
    pieces = [piece.strip() for piece in rest.split(",")]
    if not (colon and name and len(pieces) >= _BOTH):
        raise BadInput(f"wanted {MATE_HINT}")
    fields: dict[str, Any] = {"name": name, **_how(pieces[0])}
    fields["plies"] = tuple(_ply(words, parts) for words in pieces[1].split(" on "))
    for piece in pieces[2:]:
        more = _more(piece)
        fields.update({**more, **({"also": (*fields["also"], *more["also"])} if "also" in more else {})})
    if len(fields["plies"]) < _BOTH:
        raise BadInput("a mate needs two parts: PART GROUP on PART GROUP")
    return Line(fields, mate_reading(fields))


def new_name(name: str, taken: Collection[str]) -> str:
    """The name of a mate to be declared. Raises BadInput where it is empty or there is one already."""
    if not name:
        raise BadInput("a name is wanted")
    if name in taken:
        raise BadInput(f"there is a mate {name} already: open that one to change it")
    return name


def mate_reading(fields: dict[str, Any]) -> str:
    """What the fields of a mate say. Raises BadInput where a fastener or joint is wanted and not there."""
    how = fields["mate_kind"]
    if how == "bolted":
        from ledger.standards.fasteners import fastener

        if not fields["joint"]:
            raise BadInput(f"a bolted mate names its fastener and its joint: M12, then {', '.join(JOINTS)}")
        how = f"bolted with {fastener(fields['fastener']).designation}, {fields['joint']}"
    elif fields["joint"] or fields["fastener"] or fields["also"]:
        raise BadInput(f"a {how} mate has no fastener or joint")
    plies = " on ".join(_ply_reading(ply) for ply in fields["plies"])
    return f"{fields['name']}: {how}; {plies}{_more_words(fields)}"


def mate_words(mate: Mate) -> str:
    """A declared mate as the line that would say it."""
    fields = mate_fields(mate)
    how = " ".join(word for word in (mate.kind, mate.fastener, mate.joint) if word)
    plies = " on ".join(_ply_words(ply) for ply in fields["plies"])
    return f"{mate.name}: {how}, {plies}{_more_words(fields)}"


def bolt_line(text: str) -> Line:
    """`40 mm, 2 washers`: both, or one of them."""
    fields: dict[str, Any] = {"length": "", "washers": None}
    for piece in filter(None, (p.strip() for p in text.split(","))):
        count, _, word = piece.partition(" ")
        if word.strip() in ("washer", "washers") and count.isascii() and count.isdigit():
            fields["washers"] = int(count)
        else:
            length = read_length(piece)
            if not length.mm > 0:
                raise BadInput(f"read {piece!r}; wanted a length above zero")
            fields["length"] = length.written
    said = [fields["length"]] if fields["length"] else ["length not stated"]
    said += [f"{fields['washers']} washers on each"] if fields["washers"] is not None else []
    return Line(fields, ", ".join(said))


def bolt_words(mate: Mate) -> str:
    """What is stated of a mate's bolts as the line that would say it; empty for nothing."""
    said = [mate.bolt_length.written] if mate.bolt_length else []
    said += [f"{mate.washers} washers"] if mate.washers is not None else []
    return ", ".join(said)


def mate_fields(mate: Mate) -> dict[str, Any]:
    """A declared mate as the fields that would declare it."""
    return {
        "name": mate.name,
        "mate_kind": mate.kind,
        "fastener": mate.fastener,
        "joint": mate.joint,
        "plies": tuple({"part": p.part, "group": p.group, "face_up": p.face_up} for p in mate.plies),
        "flip": mate.flip,
        "located": mate.located_written,
        "also": tuple(asdict(a) for a in mate.also),
        "gap": mate.gap.written if mate.gap else "",
        **{name: getattr(mate, name) for name in WELD_FIELDS},
    }


def _how(text: str) -> dict[str, Any]:
    kind = next((k for k in MATE_KINDS if text == k or text.startswith(f"{k} ")), "")
    if not kind:
        raise UnknownName("kind of mate", text.partition(" ")[0], MATE_KINDS)
    rest = text.removeprefix(kind).strip()
    joint = max((j for j in JOINTS if rest == j or rest.endswith(f" {j}")), key=len, default="")
    fastener = rest.removesuffix(joint).strip()
    return {
        "mate_kind": kind,
        "fastener": fastener,
        "joint": joint,
        "flip": "no",
        "located": "",
        "also": (),
        "gap": "",
        **dict.fromkeys(WELD_FIELDS, ""),
    }


def _ply(text: str, parts: Collection[str]) -> dict[str, str]:
    text = text.strip()
    if not text:
        raise BadInput("a part is wanted: PART GROUP on PART GROUP")
    part = max((p for p in parts if text == p or text.startswith(f"{p} ")), key=len, default="")
    if not part:
        raise UnknownName("part", text.partition(" ")[0], parts)
    words = text.removeprefix(part).split()
    face = words.pop() if words and words[-1] in FACES else "top"
    return {"part": part, "group": " ".join(words), "face_up": face}


def _more(piece: str) -> dict[str, Any]:
    if piece in _FLIPS:
        return {"flip": _FLIPS[piece]}
    word, _, rest = piece.partition(" ")
    if word == "at":
        read_located(rest)
        return {"located": rest.strip()}
    if word == "also":
        return {"also": (asdict(read_also(rest)),)}
    if word == "gap":
        read_bounds(rest)
        return {"gap": rest.strip()}
    if piece in WELD_SIDES:
        return {"weld_side": piece}
    for start, field, known in (("weldment", "weldment", CLASSES), ("holes", "holes_made", HOLES_MADE)):
        if word == start:
            if rest.strip() not in known:
                raise UnknownName(start, rest.strip(), known)
            return {field: rest.strip()}
    raise BadInput(
        "behind the parts: turned over, either way up, at X Y ANGLE, also M6 dowel PINS on PINS, gap >= 2 mm; of a "
        "weld: arrow side, weldment B, holes jigged"
    )


def _more_words(fields: dict[str, Any]) -> str:
    flip = f", {FLIP_WORDS[fields['flip']]}" if fields["flip"] != "no" else ""
    at = f", at {fields['located']}" if fields["located"] else ""
    also = "".join(f", also {also_words(a)}" for a in fields["also"])
    gap = f", gap {fields['gap']}" if fields["gap"] else ""
    weld = f", {fields['weld_side']}" if fields["weld_side"] else ""
    weld += f", weldment {fields['weldment']}" if fields["weldment"] else ""
    return flip + at + also + gap + weld + (f", holes {fields['holes_made']}" if fields["holes_made"] else "")


def also_words(also: dict[str, Any]) -> str:
    """A fastener beside the mate's own as the words that would say it."""
    return f"{also['fastener']} {also['joint']} {' on '.join(also['groups'])}"


def _ply_words(ply: dict[str, str]) -> str:
    face = ply["face_up"] if ply["face_up"] != "top" else ""
    return " ".join(word for word in (ply["part"], ply["group"], face) if word)


def _ply_reading(ply: dict[str, str]) -> str:
    holes = f"group {ply['group']}" if ply["group"] else "all holes"
    return f"{ply['part']} ({holes}, {ply['face_up']} up)"
