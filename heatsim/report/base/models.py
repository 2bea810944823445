# SPDX-License-Identifier: GPL-3.0-or-later
"""Bokeh's models as the text that its script reads in a page.

Bokeh's own Python writes the same, but it checks every property and takes half a second to load, and twenty times as long for each
figure. What is written here its Python checks in `tests/report/base/test_models.py`.
"""

from __future__ import annotations

import base64
import gzip
import json
import math
from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np


class Model:
    """A model. name: as in `bokeh.models`; properties: those that are not as Bokeh has them by itself. A mapping among them is an
    object with fields as `column` and `value` make it; what Bokeh calls a dictionary is a `Pairs`.
    """

    def __init__(self, name: str, **properties: Any) -> None:
        self.name, self.properties = name, properties

    def update(self, **properties: Any) -> None:
        """Change some of its properties."""
        self.properties.update(properties)


class Plot(Model):
    """A plot, to which lines, what stands beside them and tools are added."""

    def __init__(self, **properties: Any) -> None:
        super().__init__("Plot", renderers=[], toolbar=Model("Toolbar", tools=[], logo=None), toolbar_location=None, **properties)

    def add_layout(self, made: Model, side: str = "center") -> None:
        """Put an axis, a grid, a legend or a mark on a side of the plot, or on the plot itself."""
        self.properties.setdefault(side, []).append(made)

    def add_glyph(self, source: Model, glyph: Model, **properties: Any) -> Model:
        """Draw a source's columns as a glyph says; properties: of what draws, such as `visible`."""
        made = Model("GlyphRenderer", data_source=source, glyph=glyph, **properties)
        self.properties["renderers"].append(made)
        return made

    def add_tools(self, *tools: Model) -> None:
        """What can be done with the plot, and what is read at the pointer."""
        self.properties["toolbar"].properties["tools"].extend(tools)


class Pairs(dict[Any, Any]):
    """What Bokeh calls a dictionary: keys and values."""


def column(name: str, **more: Any) -> dict[str, Any]:
    """A property that is a column of the source; more: such as `transform`."""
    return {"type": "field", "field": name, **more}


def value(constant: Any) -> dict[str, Any]:
    """A property that could be a column and is the same for all."""
    return {"type": "value", "value": constant}


def data_source(columns: Mapping[str, Any]) -> Model:
    """Columns of numbers, arrays or lists, or of texts."""
    return Model("ColumnDataSource", data=Pairs(columns))


def grid_of(plots: Sequence[Plot]) -> Model:
    """Plots below one another with one row of buttons: tools that are alike but for what they work on are behind one button."""
    tools = [tool for plot in plots for tool in plot.properties["toolbar"].properties["tools"]]
    proxies = [Model("ToolProxy", tools=group) for group in _alike(tools)]
    dragged = plots[-1].properties["toolbar"].properties.get("active_drag")
    active = next((proxy for proxy in proxies if dragged in proxy.properties["tools"]), None)
    toolbar = Model("Toolbar", tools=proxies, logo=None, **({} if active is None else {"active_drag": active}))
    children = [[plot, row, 0] for row, plot in enumerate(plots)]
    return Model("GridPlot", sizing_mode="stretch_width", toolbar=toolbar, children=children)


def _alike(tools: Iterable[Model]) -> list[list[Model]]:
    """Tools of a name with the same properties but those that say on what they work, in the order of the names."""
    by_name: dict[str, list[list[Model]]] = {}
    for tool in tools:
        groups = by_name.setdefault(tool.name, [])
        group = next((group for group in groups if _settings(group[0]) == _settings(tool)), None)
        if group is None:
            groups.append([tool])
        else:
            group.append(tool)
    return [group for groups in by_name.values() for group in groups]


def _settings(tool: Model) -> dict[str, Any]:
    return {name: setting for name, setting in tool.properties.items() if name not in ("overlay", "renderers")}


def document_text(root: Model) -> str:
    """A model with all that belongs to it, as the script's `embed_item` takes it; the same for the same models."""
    writer, version = _Writer(), bokeh_version()
    plain, config = writer.plain(root), writer.plain(Model("DocumentConfig"))
    document = {"version": version, "title": "heatsim", "config": config, "roots": [plain]}
    return json.dumps({"root_id": plain["id"], "doc": document, "version": version}, separators=(",", ":"), ensure_ascii=False)


@lru_cache
def bokeh_version() -> str:
    """Of the Bokeh whose script it is."""
    import bokeh

    return str(bokeh.__version__)


@lru_cache
def bokeh_script() -> str:
    """Bokeh's script without tables, widgets or WebGL, which says nothing but errors."""
    import bokeh

    path = Path(bokeh.__file__).parent / "server" / "static" / "js" / "bokeh.min.js"
    return f'{path.read_text(encoding="utf-8")}\nBokeh.set_log_level("error");'


class _Writer:
    """Plain data of a document. Each model is written whole where it first occurs, with a number of its own, afterwards by that."""

    def __init__(self) -> None:
        self._numbers: dict[int, str] = {}

    def plain(self, content: Any) -> Any:
        """Models, arrays and numbers as Bokeh writes them."""
        if isinstance(content, Model):
            return self._model(content)
        if isinstance(content, Pairs):
            return {"type": "map", "entries": [[key, self.plain(each)] for key, each in content.items()]}
        if isinstance(content, Mapping):
            return {key: self.plain(each) for key, each in content.items()}
        if isinstance(content, np.ndarray):
            return _array(content)
        if isinstance(content, list | tuple):
            return [self.plain(each) for each in content]
        if isinstance(content, np.generic):
            content = content.item()
        if isinstance(content, float) and not math.isfinite(content):
            return {"type": "number", "value": "nan" if math.isnan(content) else f"{'+' if content > 0 else '-'}inf"}
        return content

    def _model(self, model: Model) -> dict[str, Any]:
        if id(model) in self._numbers:
            return {"id": self._numbers[id(model)]}
        number = self._numbers[id(model)] = f"p{len(self._numbers) + 1}"
        written: dict[str, Any] = {"type": "object", "name": model.name, "id": number}
        attributes = {name: self.plain(each) for name, each in model.properties.items()}
        return written | ({"attributes": attributes} if attributes else {})


def _array(array: Any) -> dict[str, Any]:
    """Numbers, compressed."""
    data = base64.b64encode(gzip.compress(array.tobytes(), mtime=1)).decode("ascii")
    shape, order = list(array.shape), "little"
    assert array.dtype.byteorder in "=<|" and np.little_endian
    return {"type": "ndarray", "array": {"type": "bytes", "data": data}, "shape": shape, "dtype": array.dtype.name, "order": order}
