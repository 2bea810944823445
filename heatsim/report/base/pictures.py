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


class ShownFigure(Figure):
    """A figure that a notebook shows by itself, whether or not pyplot is loaded."""

    def _repr_png_(self) -> bytes:
        return as_png(self)


@contextmanager
def new_figure(width: float, height: float, **options: Any) -> Iterator[Figure]:
    """A figure of this width and height [inch], to be drawn on in the house style inside the block."""
    with house():
        figure = ShownFigure((width, height), **options)
        FigureCanvasAgg(figure)
        yield figure


def as_png(figure: Figure, dpi: float = DPI) -> bytes:
    """The figure as a PNG file, the same for the same picture."""
    png = io.BytesIO()
    with house():
        figure.savefig(png, format="png", dpi=dpi, metadata={"Software": None}, pil_kwargs={"compress_level": COMPRESSION})
    return png.getvalue()


def files(figure: Figure, stem: str, title: str, png: bool = True) -> dict[str, str | bytes]:
    """The figure as SVG, the same for the same picture, by file name; title: of the SVG, for readers of it; png: also as PNG."""
    return ({f"{stem}.png": as_png(figure)} if png else {}) | {f"{stem}.svg": as_svg(figure, title)}


def as_svg(figure: Figure, title: str) -> str:
    """The figure as an SVG file, the same for the same picture; title: for readers of it."""
    svg = io.StringIO()
    with house():
        figure.savefig(svg, format="svg", metadata={"Date": None, "Creator": None, "Title": title})
    return svg.getvalue()
