"""
How a connection is said in one line, and read from it.

`TURN to BASE: bolted M12 through, TURN bolts on BASE bolts` and behind it, each after a comma, what applies:
`turned over`, `either way up`, `at X Y ANGLE` (or `at pins`, `at left on left`), `also M6 dowel PINS on PINS`,
`gap >= 2 mm` (of a weld the root gap), and of a weld `arrow side`, `other side`, `both sides`, `weld class B`,
`holes jigged`, `holes drilled after`. A ply is PART, then its hole group, then the face that is up (top, bottom, edge)
where it is not the top; PART:GROUP:FACE says the same, and a face by a name of one's own.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import asdict
from typing import Any

from ledger.domain.connection import CONNECTION_KINDS, HOLES_MADE, JOINTS, WELD_SIDES, Connection
from ledger.domain.errors import BadInput, UnknownName
from ledger.domain.position import read_also, read_position
from ledger.domain.quantity import read_bounds
from ledger.standards.weld_classes import CLASSES
from ledger.words.forms import CONNECTION
from ledger.words.line import Line, reads

FACES = ("top", "bottom", "edge")
TURNED_OVER_WORDS = {"no": "as drawn", "yes": "turned over", "either": "either way up"}
_TURNED_OVER = {words: turned_over for turned_over, words in TURNED_OVER_WORDS.items()}
WELD_CLASSES = CLASSES
WELD_FIELDS = ("weld_side", "weld_class", "holes_made")
_BOTH = 2
_NUMBER = tuple("0123456789.+-")


@reads(CONNECTION)
def connection_line(text: str, parts: Collection[str]) -> Line:
    """The fields of a connection from its line; `parts` are the numbers that are known. Raises BadInput."""
    name, colon, rest = (piece.strip() for piece in text.partition(":"))
    pieces = _pieces(rest)
    if not (colon and name and len(pieces) >= _BOTH):
        raise BadInput(f"expected {CONNECTION.hint}")
    fields: dict[str, Any] = {"name": name, **_how(pieces[0])}
    fields["plies"] = tuple(_ply(words, parts) for words in pieces[1].split(" on "))
    for piece in pieces[2:]:
        more = _more(piece)
        fields.update({**more, **({"also": (*fields["also"], *more["also"])} if "also" in more else {})})
    if len(fields["plies"]) < _BOTH:
        raise BadInput("a connection needs two parts: PART GROUP on PART GROUP")
    return Line(fields, connection_reading(fields))


def new_name(name: str, taken: Collection[str]) -> str:
    """The name of a new connection. Raises BadInput where it is empty or there is one already."""
    if not name:
        raise BadInput("a name is required")
    if name in taken:
        raise BadInput(f"the connection {name} exists already: open it to edit it")
    return name


def connection_reading(fields: dict[str, Any]) -> str:
    """What the fields of a connection say. Raises BadInput where a fastener or joint is required and not there."""
    how = fields["connection_kind"]
    if how == "bolted":
        from ledger.standards.fasteners import fastener

        if not fields["joint"]:
            raise BadInput(
                f"a bolted connection needs its fastener and its joint: M12, then {', '.join(JOINTS)}"
            )
        how = f"bolted with {fastener(fields['fastener']).designation}, {fields['joint']}"
    elif fields["joint"] or fields["fastener"] or fields["also"]:
        raise BadInput(f"a {how} connection has no fastener or joint")
    plies = " on ".join(_ply_reading(ply) for ply in fields["plies"])
    return f"{fields['name']}: {how}; {plies}{_more_words(fields)}"


def connection_words(connection: Connection, parts: Collection[str] = ()) -> str:
    """A connection as the line that would enter it; `parts` are the numbers that are known."""
    fields = connection_fields(connection)
    how = " ".join(word for word in (connection.kind, connection.fastener, connection.joint) if word)
    plies = " on ".join(_ply_words(ply, parts) for ply in fields["plies"])
    return f"{connection.name}: {how}, {plies}{_more_words(fields)}"


def fits_a_line(connection: Connection, parts: Collection[str]) -> bool:
    """Whether its line reads back as the same connection; a name with a comma in it may prevent that."""
    try:
        read = connection_line(connection_words(connection, parts), parts)
    except BadInput:
        return False
    return read.fields == connection_fields(connection)


def connection_fields(connection: Connection) -> dict[str, Any]:
    """A connection as the fields that would record it."""
    return {
        "name": connection.name,
        "connection_kind": connection.kind,
        "fastener": connection.fastener,
        "joint": connection.joint,
        "plies": tuple({"part": p.part, "group": p.group, "face_up": p.face_up} for p in connection.plies),
        "turned_over": connection.turned_over,
        "position": connection.position_written,
        "also": tuple(asdict(a) for a in connection.also),
        "gap": connection.gap.written if connection.gap else "",
        **{name: getattr(connection, name) for name in WELD_FIELDS},
    }


def _pieces(rest: str) -> list[str]:
    """What stands between commas; those inside a position, `at 10, 20, 90`, are its own."""
    pieces: list[str] = []
    for piece in rest.split(","):
        if pieces and pieces[-1].strip().startswith("at ") and piece.strip()[:1] in _NUMBER:
            pieces[-1] += f",{piece}"
        else:
            pieces.append(piece)
    return [piece.strip() for piece in pieces]


def _how(text: str) -> dict[str, Any]:
    kind = next((k for k in CONNECTION_KINDS if text == k or text.startswith(f"{k} ")), "")
    if not kind:
        raise UnknownName("kind of connection", text.partition(" ")[0], CONNECTION_KINDS)
    rest = text.removeprefix(kind).strip()
    joint = max((j for j in JOINTS if rest == j or rest.endswith(f" {j}")), key=len, default="")
    fastener = rest.removesuffix(joint).strip()
    return {
        "connection_kind": kind,
        "fastener": fastener,
        "joint": joint,
        "turned_over": "no",
        "position": "",
        "also": (),
        "gap": "",
        **dict.fromkeys(WELD_FIELDS, ""),
    }


def _ply(text: str, parts: Collection[str]) -> dict[str, str]:
    text = text.strip()
    if not text:
        raise BadInput("a part is required: PART GROUP on PART GROUP")
    number, colon, rest = text.partition(":")
    if colon and number.strip() in parts:
        group, _, face = (piece.strip() for piece in rest.partition(":"))
        return {"part": number.strip(), "group": group, "face_up": face or "top"}
    part = max((p for p in parts if text == p or text.startswith(f"{p} ")), key=len, default="")
    if not part:
        raise UnknownName("part", text.partition(" ")[0], parts)
    words = text.removeprefix(part).split()
    face = words.pop() if words and words[-1] in FACES else "top"
    return {"part": part, "group": " ".join(words), "face_up": face}


def _more(piece: str) -> dict[str, Any]:
    if piece in _TURNED_OVER:
        return {"turned_over": _TURNED_OVER[piece]}
    word, _, rest = piece.partition(" ")
    if word == "at":
        read_position(rest)
        return {"position": rest.strip()}
    if word == "also":
        return {"also": (asdict(read_also(rest)),)}
    if word == "gap":
        read_bounds(rest)
        return {"gap": rest.strip()}
    if piece in WELD_SIDES:
        return {"weld_side": piece}
    for start, field, known in (("weld class", "weld_class", CLASSES), ("holes", "holes_made", HOLES_MADE)):
        if piece == start or piece.startswith(f"{start} "):
            what = piece.removeprefix(start).strip()
            if what not in known:
                raise UnknownName(start, what, known)
            return {field: what}
    raise BadInput(
        "after the parts: turned over, either way up, at X Y ANGLE, also M6 dowel PINS on PINS, gap >= 2 mm; of a "
        "weld: arrow side, weld class B, holes jigged"
    )


def _more_words(fields: dict[str, Any]) -> str:
    turned_over = f", {TURNED_OVER_WORDS[fields['turned_over']]}" if fields["turned_over"] != "no" else ""
    at = f", at {fields['position']}" if fields["position"] else ""
    also = "".join(f", also {also_words(a)}" for a in fields["also"])
    gap = f", gap {fields['gap']}" if fields["gap"] else ""
    weld = f", {fields['weld_side']}" if fields["weld_side"] else ""
    weld += f", weld class {fields['weld_class']}" if fields["weld_class"] else ""
    return (
        turned_over
        + at
        + also
        + gap
        + weld
        + (f", holes {fields['holes_made']}" if fields["holes_made"] else "")
    )


def also_words(also: dict[str, Any]) -> str:
    """A fastener beside the connection's own as the words that would say it."""
    return f"{also['fastener']} {also['joint']} {' on '.join(also['groups'])}"


def _ply_words(ply: dict[str, str], parts: Collection[str]) -> str:
    """PART GROUP FACE; with colons between where blanks would be read as something else."""
    face = ply["face_up"] if ply["face_up"] != "top" else ""
    plain = " ".join(word for word in (ply["part"], ply["group"], face) if word)
    if _ply(plain, {*parts, ply["part"]}) == ply:
        return plain
    return f"{ply['part']}:{ply['group']}" + (f":{face}" if face else "")


def _ply_reading(ply: dict[str, str]) -> str:
    holes = f"group {ply['group']}" if ply["group"] else "all holes"
    return f"{ply['part']} ({holes}, {ply['face_up']} up)"


def fastener_words(text: str) -> str:
    """The designation of a fastener as it was typed. Raises UnknownName, BadInput."""
    from ledger.standards.fasteners import fastener

    return fastener(text.strip()).designation


def drill_words(fastener: str) -> str:
    """What to drill for a fastener to pass; empty where no table says."""
    from ledger.standards import clearance_holes

    return clearance_holes.drill_words(fastener)
