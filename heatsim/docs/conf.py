# SPDX-License-Identifier: GPL-3.0-or-later
"""Sphinx's settings. Nothing is fetched: neither while the site is built nor when it is read."""

from __future__ import annotations

import re
from typing import Any

from heatsim import __version__

project = "heatsim"
copyright = "the authors of heatsim"
release = version = __version__

extensions = ["myst_parser", "sphinx.ext.autodoc"]
exclude_patterns = ["**/_*.md", "_*.md"]
source_suffix = {".md": "markdown"}
suppress_warnings = ["myst.header"]
smartquotes = False

myst_enable_extensions = ["deflist", "attrs_inline", "attrs_block", "colon_fence"]
myst_heading_anchors = 4

html_theme = "furo"
html_title = "heatsim"
html_static_path = ["_static"]
html_css_files = ["heatsim.css"]
html_js_files = ["heatsim.js"]
html_copy_source = False
html_show_sphinx = False
html_theme_options = {"navigation_with_keys": True}

autodoc_typehints = "none"
autodoc_member_order = "bysource"
nitpick_ignore_regex = [("py:.*", ".*")]

pygments_style = "xcode"
pygments_dark_style = "native"


def as_fields(app: Any, what: str, name: str, thing: Any, options: Any, lines: list[str]) -> None:
    """Arguments of a docstring, `name: meaning` a line, as a list of fields; code marks as Sphinx has them."""
    found: list[str] = []
    listed = False
    for line in lines:
        argument = re.fullmatch(r"([a-z_]+(?:(?:, | and )[a-z_]+)*(?:, and in `options` [a-z_, and]+)?): (.+)", line)
        if argument and not listed:
            found.append("")
        if listed and not argument and line and not line.startswith(" "):
            found.append("")
        listed = bool(argument) or (listed and line.startswith(" "))
        text = f":{argument[1].replace('`', '')}: {argument[2]}" if argument else line
        found.append(re.sub(r"(?<!`)`([^`]+)`(?!`)", r"``\1``", text))
    lines[:] = found


def setup(app: Any) -> None:
    """Connect what reads docstrings."""
    app.connect("autodoc-process-docstring", as_fields)
