# SPDX-License-Identifier: GPL-3.0-or-later
"""Colours of pages on light and on dark paper: those that pictures are drawn with become variables of the style sheet.

Each reads on its card, and the card's colour on it, with a contrast of 4.5 or more (WCAG 2.2, 1.4.3), for they colour text too.
"""

from __future__ import annotations

import re

SCHEME = {
    "#31363f": ("ink", "#272b33", "#e4e4df"),
    "#ffffff": ("card", "#ffffff", "#1e2127"),
    "#8b919b": ("faint", "#6a717b", "#949aa4"),
    "#2476b0": ("left", "#2476b0", "#57a8e2"),
    "#cc6a2b": ("right", "#b35d26", "#e08a54"),
    "#6f7d1e": ("centre", "#6b791d", "#9db02f"),
    "#b8434e": ("limit", "#b8434e", "#e58790"),
    "#b5562f": ("heat", "#b5562f", "#e08a66"),
    "#9a5a9e": ("supply", "#9a5a9e", "#c796ca"),
    "#2a8a80": ("bus", "#24776e", "#3fb5a8"),
}
"""Colour that is drawn (see `style`) -> its name on pages, its shade on light paper, its shade on dark paper."""

_DRAWN = re.compile("|".join(SCHEME), re.IGNORECASE)


def themed(text: str) -> str:
    """A picture's text with the variables of the style sheet for the colours of the house style."""
    return _DRAWN.sub(lambda found: f"var(--{SCHEME[found[0].lower()][0]})", text)


def variables(dark: bool = False) -> str:
    """Declarations of the variables for light or dark paper."""
    return " ".join(f"--{name}: {night if dark else day};" for name, day, night in SCHEME.values())
