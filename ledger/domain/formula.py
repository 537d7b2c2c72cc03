"""
A calculated value: plain arithmetic with units over other dimensions, such as "2*W + 3/16 in".

A *name* is a dimension of the same part, `W`; of another one, `W of BASE`. Names with spaces or signs stand in square
brackets: `[bolt circle] of [ARM-L]`. There are + - * / and brackets, numbers with a unit (3/16 in, 90 deg, 2 in2) and
plain ones. What a value *is* comes along: like is added to like, length times length is an area, length by length a
plain number. Arithmetic is on fractions, and each value carries its slope against every name, for its uncertainty
(JCGM 100:2008, 5.1.2). Nothing of Python is run.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from functools import lru_cache
from typing import Any
from unicodedata import category

from ledger.domain import number_text
from ledger.domain.amounts import DEGREES, KINDS, MM, MM2, area_mm2, read_as
from ledger.domain.errors import BadInput, visible
from ledger.domain.number_text import NUMBER, UNIT_NAMES
from ledger.domain.quantity import read_length

MOST_CHARACTERS = 200
_UNIT = "|".join(re.escape(u) for u in sorted(UNIT_NAMES, key=len, reverse=True))
_TOKENS = re.compile(
    rf"""\s*(?:
      (?P<sized>{NUMBER})\ ?(?:(?P<area>[a-z]{{1,2}}2)(?!\w)|(?P<angle>°|deg(?:rees?)?\b\.?)|(?P<unit>{_UNIT})(?!\w))
    | (?P<strange>(?:[0-9]+(?:\.[0-9]+)?|\.[0-9]+)\ ?[^\W\d]\w*)
    | (?P<bare>[0-9]+(?:\.[0-9]+)?|\.[0-9]+)
    | \[(?P<quoted>[^\[\]]+)\]
    | (?P<word>[^\W\d]\w*)
    | (?P<sign>[-+*/()])
    )""",
    re.VERBOSE | re.IGNORECASE,
)
_FRACTION = re.compile(rf" ?(?:[0-9]+[ -])?[0-9]+/[0-9]+ ?(?:{_UNIT})(?!\w)", re.IGNORECASE)
_SIGNS = str.maketrans(
    dict.fromkeys("−–—‐‑‒", "-")
    | dict.fromkeys("×·", "*")
    | {"÷": "/", "″": '"', "”": '"', "′": "'", "’": "'"}
)
_OF_KIND = {(0, 0): "a plain number", (1, 0): "a length", (2, 0): "an area", (0, 1): "an angle"}
_UNIT_OF = {(1, 0): MM, (2, 0): MM2, (0, 1): DEGREES}
_KIND_OF = {unit: kind for kind, unit in _UNIT_OF.items()}


@dataclass(frozen=True, slots=True)
class Ref:
    """A dimension that is named; an empty part is the one the formula belongs to."""

    name: str
    part: str = ""

    def __str__(self) -> str:
        return f"{_shown(self.name)} of {_shown(self.part)}" if self.part else _shown(self.name)


@dataclass(frozen=True, slots=True)
class Value:
    """A value with its kind, as powers of length and of angle, and its slopes against the names in it."""

    number: Fraction
    kind: tuple[int, int] = (0, 0)
    slopes: dict[Ref, Fraction] = field(default_factory=dict)

    @property
    def unit(self) -> str | None:
        """mm, deg or mm2; None for what no dimension can be."""
        return _UNIT_OF.get(self.kind)


@dataclass(frozen=True, slots=True)
class Node:
    """A number, a name, or an operation on two nodes."""

    text: str
    leaf: Value | Ref | None = None
    sign: str = ""
    sides: tuple[Node, ...] = ()

    def to_json(self) -> dict[str, Any]:
        """A number as an exact fraction with its powers of length and angle, a name with its part, or a sign."""
        if isinstance(self.leaf, Ref):
            return {"text": self.text, "name": self.leaf.name, "part": self.leaf.part}
        if self.leaf is not None:
            return {"text": self.text, "number": str(self.leaf.number), "kind": list(self.leaf.kind)}
        return {"text": self.text, "sign": self.sign, "sides": [side.to_json() for side in self.sides]}

    @staticmethod
    def from_json(data: dict[str, Any]) -> Node:
        """The node that `to_json` wrote. Raises ValueError or KeyError for anything else."""
        text = str(data["text"])
        if "name" in data:
            return Node(text, Ref(str(data["name"]), str(data["part"])))
        if "number" in data:
            length, angle = data["kind"]
            return Node(text, Value(Fraction(data["number"]), (int(length), int(angle))))
        sign, sides = str(data["sign"]), tuple(Node.from_json(side) for side in data["sides"])
        if sign not in _OPERATIONS or not (len(sides) == 2 or (len(sides) == 1 and sign == "-")):  # noqa: PLR2004 - left and right
            raise ValueError(f"no operation {sign!r} on {len(sides)} values")
        return Node(text, None, sign, sides)


@dataclass(frozen=True, slots=True)
class Formula:
    """A formula as written, and what it was read as."""

    written: str
    tree: Node

    def __str__(self) -> str:
        return self.written

    def to_json(self) -> dict[str, Any]:
        return {"written": self.written, "tree": self.tree.to_json()}

    @staticmethod
    def from_json(data: dict[str, Any]) -> Formula:
        """The formula that `to_json` wrote; its text is not read again."""
        return Formula(str(data["written"]), Node.from_json(data["tree"]))


def of_unit(number: Fraction, unit: str, ref: Ref) -> Value:
    """The value of a named dimension in mm, deg or mm2."""
    return Value(number, _KIND_OF[unit], {ref: Fraction(1)})


def formula_of(text: str) -> Formula:
    """What a person wrote, with its text. Raises BadInput."""
    return Formula(text, read_formula(text))


@lru_cache(maxsize=512)
def read_formula(text: str) -> Node:
    """The formula that a person wrote. Raises BadInput naming what was read and what was expected."""
    return _Reader(_clean(text)).whole()


def names_in(node: Node) -> Iterator[Ref]:
    """Every dimension that a formula names, once each."""
    found: dict[Ref, None] = {}
    todo = [node]
    while todo:
        one = todo.pop()
        if isinstance(one.leaf, Ref):
            found[one.leaf] = None
        todo.extend(reversed(one.sides))
    yield from found


def evaluate(node: Node, lookup: Callable[[Ref], Value]) -> Value:
    """The value of a formula. Raises BadInput for a division by zero and for kinds that do not go together."""
    if isinstance(node.leaf, Ref):
        return lookup(node.leaf)
    if node.leaf is not None:
        return node.leaf
    values = [evaluate(side, lookup) for side in node.sides]
    if len(values) == 1:
        return _scaled(values[0], Fraction(-1))
    return _OPERATIONS[node.sign](node, *values)


def kind_words(value: Value) -> str:
    """What a value is, in words."""
    return _OF_KIND.get(value.kind, "no length, angle or area")


def _sum(node: Node, a: Value, b: Value) -> Value:
    if a.kind != b.kind:
        left, right = (side.text for side in node.sides)
        raise BadInput(
            f"{left!r} is {kind_words(a)} and {right!r} is {kind_words(b)}: only like is added to like"
            + ("; write its unit" if (0, 0) in (a.kind, b.kind) else "")
        )
    b = _scaled(b, Fraction(-1)) if node.sign == "-" else b
    return Value(a.number + b.number, a.kind, _merged(a.slopes, b.slopes))


def _product(_node: Node, a: Value, b: Value) -> Value:
    kind = (a.kind[0] + b.kind[0], a.kind[1] + b.kind[1])
    slopes = _merged(_scaled(a, b.number).slopes, _scaled(b, a.number).slopes)
    return Value(a.number * b.number, kind, slopes)


def _quotient(node: Node, a: Value, b: Value) -> Value:
    if b.number == 0:
        raise BadInput(f"{node.sides[1].text!r} is zero: nothing can be divided by it")
    kind = (a.kind[0] - b.kind[0], a.kind[1] - b.kind[1])
    over = _scaled(b, -a.number / b.number**2).slopes
    return Value(a.number / b.number, kind, _merged(_scaled(a, 1 / b.number).slopes, over))


_OPERATIONS: dict[str, Callable[[Node, Value, Value], Value]] = {
    "+": _sum,
    "-": _sum,
    "*": _product,
    "/": _quotient,
}


def _scaled(value: Value, by: Fraction) -> Value:
    return Value(value.number * by, value.kind, {k: v * by for k, v in value.slopes.items()})


def _merged(a: dict[Ref, Fraction], b: dict[Ref, Fraction]) -> dict[Ref, Fraction]:
    return {ref: a.get(ref, Fraction(0)) + b.get(ref, Fraction(0)) for ref in {**a, **b}}


def _shown(name: str) -> str:
    return name if re.fullmatch(r"[^\W\d]\w*", name) and name.lower() != "of" else f"[{name}]"


def _clean(text: str) -> str:
    if not text.strip():
        raise BadInput("nothing was given where a formula is required; write it like 2*W + 3/16 in")
    if len(text) > MOST_CHARACTERS:
        raise BadInput(f"a formula of {len(text)} characters: at most {MOST_CHARACTERS} are read")
    if any(category(c)[0] == "C" or category(c) in ("Zl", "Zp") for c in text):
        raise BadInput(
            f"{visible(text)!r} holds a control character where a formula is required; type it again"
        )
    return read_as(" ".join(text.split())).translate(_SIGNS)


class _Reader:
    """Sums of products of numbers, names and brackets, left to right."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0

    def whole(self) -> Node:
        node = self.sum()
        if self.at < len(self.text):
            raise self.refused("expected + - * / or the end")
        return node

    def sum(self) -> Node:
        return self._chain("+-", self.product)

    def product(self) -> Node:
        return self._chain("*/", self.factor)

    def _chain(self, signs: str, part: Callable[[], Node]) -> Node:
        start, node = self.at, part()
        while (sign := self.peek()) and sign in signs:
            self.at = self.text.index(sign, self.at) + 1
            if sign in "*/" and _FRACTION.match(self.text, self.at):
                raise self.refused(f"put a fraction behind {sign} in brackets, which says what belongs to it")
            other = part()
            node = Node(self.text[start : self.at].strip(), None, sign, (node, other))
        return node

    def factor(self) -> Node:
        found = _TOKENS.match(self.text, self.at)
        if found is None:
            raise self.refused("expected a number, a name or a bracket")
        start, self.at = self.at, found.end()
        said = found.lastgroup
        shown = found[0].strip()
        if said in ("unit", "area", "angle"):
            return Node(shown, _sized(found, shown))
        if said == "strange":
            raise BadInput(_strange(shown))
        if said == "bare":
            return Node(shown, Value(Fraction(shown)))
        if said in ("quoted", "word"):
            return self.named(found)
        if shown == "-":
            inner = self.factor()
            return Node(self.text[start : self.at].strip(), None, "-", (inner,))
        if shown == "(":
            inner = self.sum()
            if self.peek() != ")":
                raise self.refused("expected a closing bracket")
            self.at = self.text.index(")", self.at) + 1
            return Node(self.text[start : self.at].strip(), inner.leaf, inner.sign, inner.sides)
        self.at = start
        raise self.refused("expected a number, a name or a bracket")

    def named(self, found: re.Match[str]) -> Node:
        name = (found["quoted"] or found["word"]).strip()
        part = ""
        if behind := re.compile(r" of (?:\[([^\[\]]+)\]|([^\W\d]\w*))", re.IGNORECASE).match(
            self.text, self.at
        ):
            part = (behind[1] or behind[2]).strip()
            self.at = behind.end()
        ref = Ref(name, part)
        return Node(str(ref), ref)

    def peek(self) -> str:
        return self.text[self.at :].lstrip()[:1]

    def refused(self, expected: str) -> BadInput:
        rest = self.text[self.at :].strip()
        place = f"at {rest!r}" if rest else "at its end"
        return BadInput(f"{self.text!r} does not read as a formula {place}: {expected}, as in 2*W + 3/16 in")


def _sized(found: re.Match[str], shown: str) -> Value:
    number = found["sized"]
    if found["angle"]:
        return Value(number_text.number(number, shown), _KIND_OF[DEGREES])
    if found["area"]:
        try:
            return Value(Fraction(area_mm2(number, found["area"], shown)), _KIND_OF[MM2])
        except KeyError as fault:
            raise BadInput(f"{shown!r}: expected {KINDS[MM2]} in mm2, cm2, m2, in2 or ft2") from fault
    unit = number_text.MM_PER[number_text.unit_name(found["unit"], shown)]
    return Value(number_text.number(number, shown) * unit, _KIND_OF[MM])


def _strange(shown: str) -> str:
    """Why a number with a word behind it is no length: it may be a mass, or a product without its sign."""
    found = re.fullmatch(r"([0-9.]+) ?(\w+)", shown)
    number, word = (found[1], found[2]) if found else (shown, "")
    try:
        read_length(f"{number} {word}")
    except BadInput as fault:
        return f"{fault}; to multiply, write {number}*{word}"
    return f"{shown!r} is no number with a unit; to multiply, write {number}*{word}"
