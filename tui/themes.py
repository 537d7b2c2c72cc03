"""
The colors of the screens: one dark and one light theme of our own, and what the strokes of a picture look like in each.

Hues are those that color-blind people tell apart (after Okabe and Ito, from memory), lighter on the dark ground and
darker on the light one, until every word has a contrast of 4.5:1 (WCAG 2.2, success criterion 1.4.3) on every ground
that it can stand on, the cursor's too. No state is told by color alone: a sign and a word stand beside it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from textual.theme import Theme

if TYPE_CHECKING:
    from textual.app import App

    from ledger.domain.drawing import Role

_INKS: Final[dict[Role, str]] = {
    "upper": "ink-upper",
    "between": "ink-between",
    "lower": "ink-lower",
    "wrong": "ink-wrong",
    "move": "ink-wrong",
}


def _variables(
    cursor: str, cursor_words: str, rest: str, key: str, inks: tuple[str, str, str, str]
) -> dict[str, str]:
    upper, between, lower, wrong = inks
    return {
        "block-cursor-background": cursor,
        "block-cursor-foreground": cursor_words,
        "block-cursor-text-style": "bold",
        "block-cursor-blurred-background": rest,
        "block-cursor-blurred-foreground": cursor_words,
        "block-cursor-blurred-text-style": "none",
        "block-hover-background": rest,
        "footer-key-foreground": key,
        "footer-description-foreground": cursor_words,
        "input-selection-background": cursor,
        "ink-upper": upper,
        "ink-between": between,
        "ink-lower": lower,
        "ink-wrong": wrong,
    }  # fmt: skip


DARK: Final = Theme(
    name="pier-night",
    primary="#6cc0f0",
    secondary="#8fb8d0",
    accent="#f0c050",
    foreground="#e8eaec",
    background="#12161a",
    surface="#1b2127",
    panel="#242c34",
    success="#58d0a8",
    warning="#f0c050",
    error="#ff9a76",
    dark=True,
    text_alpha=1.0,
    variables=_variables(
        "#274055", "white", "#202d38", "#f0c050", ("#5cb8ee", "#2cc495", "#eda820", "#ff8055")
    ),
)
LIGHT: Final = Theme(
    name="pier-day",
    primary="#005a8c",
    secondary="#3c5566",
    accent="#7a4800",
    foreground="#14181b",
    background="#fbfbf8",
    surface="#f2f3ef",
    panel="#e4e8e6",
    success="#005c44",
    warning="#6e4300",
    error="#a02c0c",
    dark=False,
    text_alpha=1.0,
    variables=_variables(
        "#c4dcee", "black", "#dfe8ec", "#7a4800", ("#0069a3", "#006b4e", "#965900", "#b02a08")
    ),
)


def ink_of(app: App[object] | App[None], role: Role) -> str:
    """The color of a stroke of a picture in the theme of now; empty for the foreground."""
    return app.theme_variables.get(_INKS.get(role, ""), "")
