# SPDX-License-Identifier: GPL-3.0-or-later
"""How figures are made in the house style, and how they become SVG and PNG."""

from __future__ import annotations

import io
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from heatsim.report.base.style import house

DPI = 140
"""Pixels an inch of PNG files."""

COMPRESSION = 3
"""Of PNG files: an eighth larger and a fifth sooner there than at zlib's own level, 6."""


@contextmanager
def new_figure(width: float, height: float, **options: Any) -> Iterator[Figure]:
    """A figure of this width and height [inch], to be drawn on in the house style inside the block."""
    with house():
        figure = Figure((width, height), **options)
        FigureCanvasAgg(figure)
        yield figure


def files(figure: Figure, stem: str, title: str) -> dict[str, str | bytes]:
    """The figure as PNG and SVG, the same for the same picture, by file name; title: of the SVG, for readers of it."""
    png, svg = io.BytesIO(), io.StringIO()
    with house():
        figure.savefig(png, format="png", dpi=DPI, metadata={"Software": None}, pil_kwargs={"compress_level": COMPRESSION})
        figure.savefig(svg, format="svg", metadata={"Date": None, "Creator": None, "Title": title})
    return {f"{stem}.png": png.getvalue(), f"{stem}.svg": svg.getvalue()}
