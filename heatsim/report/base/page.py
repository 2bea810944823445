# SPDX-License-Identifier: GPL-3.0-or-later
"""What all pages share: their templates, and pictures put into them. A page is one file that needs nothing else."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

from heatsim.errors import printable
from heatsim.report.base.scheme import themed, variables
from heatsim.report.base.words import percent, sentence_case, setting_text, value_text

if TYPE_CHECKING:
    from jinja2 import Environment, Template


@dataclass(frozen=True)
class Shown:
    """A picture on a page: heading, what one should see, SVG text as `inline` makes it."""

    title: str
    caption: str
    svg: str

    @classmethod
    def of(cls, content: Mapping[str, str | bytes], title: str, caption: str = "") -> Shown:
        """A picture from its files by name, the SVG among them."""
        return cls(title, caption, inline(next(str(text) for name, text in content.items() if name.endswith(".svg"))))


def inline(svg: str) -> str:
    """An SVG file's text to be put into a page: no prologue, scaled by the page, in the page's colours."""
    body = svg[svg.index("<svg") :]
    for what in (r"(<svg[^>]*?) width=\"[^\"]*\"", r"(<svg[^>]*?) height=\"[^\"]*\"", r"()<metadata>.*?</metadata>"):
        body = re.sub(what, r"\1", body, count=1, flags=re.DOTALL)
    return themed(body)


def template(name: str) -> Template:
    """A page's template. Everything put into it is escaped unless marked, and unknown names are errors."""
    return _environment().get_template(name)


@lru_cache
def _environment() -> Environment:
    from jinja2 import Environment, PackageLoader, StrictUndefined

    loader = PackageLoader("heatsim.report")
    environment = Environment(loader=loader, autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True)
    environment.filters |= {
        "q": value_text,
        "line": printable,
        "percent": percent,
        "capital": sentence_case,
        "setting": setting_text,
    }
    environment.globals["variables"] = variables
    return environment
