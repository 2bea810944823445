# SPDX-License-Identifier: GPL-3.0-or-later
"""What we write for Bokeh's script, read and checked by Bokeh's own Python, which knows every model and property."""

import base64
import gzip
import json
import re
from typing import Any

import bokeh.models
import numpy as np
import pytest
from bokeh.core.enums import DashPattern
from bokeh.core.property.visual import DashPattern as Dashes
from bokeh.document import Document
from bokeh.document.config import DocumentConfig
from bokeh.models import Plot as BokehPlot
from bokeh.resources import Resources

from heatsim.report.base.models import Model, Plot, bokeh_script, column, data_source, document_text, grid_of
from heatsim.report.base.zoom import DASHES, Axis, Level, Line, Panel, zoomable_traces
from heatsim.report.base.zoom_map import Boundary, Cells, Mark, Note, zoomable_map

X = np.linspace(0.0, 1e-3, 30)


def traces() -> str:
    lines = [Line("low", X, X, dash="dashed"), Line("high", X, X + 1, fill="low", shown=False, dash="dotted")]
    panels = [Panel("Volts", "V", lines, [Level(0.5, "rating"), Level(-90.0, "far")]), Panel("Ampere", "A", [Line("i", X, 2 * X)])]
    return zoomable_traces(panels, "volts and amperes", Axis("time"), (0.0, 5e-4), {"settled": 2e-4, "measured": 8e-4})


def a_map() -> str:
    x, y, values = np.array([20.0, 30.0]), np.array([1e-4, 2e-4, 3e-4]), np.arange(6.0).reshape(3, 2)
    values[1, 1] = np.nan
    cells = Cells(x, y, values, "headroom", "%", ["#ffffff", "#1f6b63"], 0.0, 14.0)
    more = {("ends by", None): np.full((3, 2), "choke", dtype=object), ("current", "A"): values}
    edge = Boundary("edge", x, y[:2], dash="dashdot")
    notes = [Note("one\ntwo", 22.0, 2e-4), Note("three", 22.0, 2e-4, (25.0, 1e-4))]
    ticks = ({20.0: "little", 30.0: "much"}, None)
    ends = ((20.0, 30.0), (1e-4, 3e-4))
    marks = [Mark("as built", 25.0, 2e-4, "x")]
    return zoomable_map(cells, "headroom", Axis("supply", "V"), Axis("coil", "H"), more, [edge], marks, ticks, ends, notes)


def written(snippet: str) -> dict[str, Any]:
    """The document in a snippet of a page, with a colour wherever the page's script puts one."""
    text = re.search(r'<script type="application/json">(.*?)</script>', snippet)
    assert text is not None
    found: dict[str, Any] = json.loads(re.sub(r"var\(--\w+\)", "#123456", text[1]))["doc"]
    return found


def plain(document: Document) -> dict[str, Any]:
    """As Bokeh writes it."""
    found: dict[str, Any] = json.loads(json.dumps(document.to_json(deferred=False)))
    return found


def models(content: Any) -> dict[str, dict[str, Any]]:
    """Number -> model, of a document."""
    if isinstance(content, list):
        return {number: model for each in content for number, model in models(each).items()}
    if not isinstance(content, dict):
        return {}
    own = {content["id"]: content} if content.get("type") == "object" else {}
    return own | models(list(content.values()))


def numbers(content: Any) -> Any:
    """The same with arrays unpacked and models by their numbers."""
    if isinstance(content, list):
        return [numbers(each) for each in content]
    if not isinstance(content, dict):
        return content
    if content.get("type") == "ndarray":
        return gzip.decompress(base64.b64decode(content["array"]["data"])), content["dtype"], content["shape"]
    return content["id"] if "id" in content else {key: numbers(each) for key, each in content.items()}


@pytest.mark.parametrize("make", [traces, a_map])
def test_bokeh_reads_every_model_and_finds_nothing_to_be_wrong(make: Any) -> None:
    """Unknown models and values that a property cannot have raise."""
    ours = written(make())
    read = Document.from_json(ours)
    theirs = models(plain(read))
    assert len(models(ours)) > 40
    for number, model in models(ours).items():
        assert theirs[number]["name"] == model["name"]
        said, kept = (numbers(each.get("attributes", {})) for each in (model, theirs[number]))
        assert {name: kept[name] for name in said if name in kept} == {name: said[name] for name in said if name in kept}
        known = DocumentConfig if model["name"] == "DocumentConfig" else getattr(bokeh.models, model["name"])
        assert set(said) <= set(known.properties())


def test_bokeh_refuses_what_is_wrong() -> None:
    """The test above can fail."""
    for wrong in (Model("Span", dimension="sideways"), Model("Span", line_cap="red"), Model("Spun")):
        plot = Plot()
        plot.add_layout(wrong)
        with pytest.raises(Exception, match="sideways|line_cap|Spun"):
            Document.from_json(json.loads(document_text(grid_of([plot])))["doc"])


def test_what_bokeh_writes_beyond_is_what_its_script_takes_by_itself() -> None:
    """Every property that Bokeh adds has its default value there."""
    read = Document.from_json(written(traces()))
    ours, theirs = models(written(traces())), models(plain(read))
    beyond = {
        (theirs[number]["name"], name)
        for number, model in ours.items()
        for name in set(theirs[number].get("attributes", {})) - set(model.get("attributes", {}))
    }
    assert beyond <= {
        ("BasicTicker", "mantissas"),
        ("BoxZoomTool", "overlay"),
        ("ColumnDataSource", "selected"),
        ("ColumnDataSource", "selection_policy"),
        ("DocumentConfig", "notifications"),
        ("GlyphRenderer", "view"),
        ("GridPlot", "cols"),
        ("GridPlot", "rows"),
        ("HoverTool", "sort_by"),
        ("WheelZoomTool", "renderers"),
    }


def test_tools_that_are_alike_are_behind_one_button() -> None:
    grid = Document.from_json(written(traces())).roots[0]
    groups = [[type(tool).__name__ for tool in proxy.tools] for proxy in grid.toolbar.tools]
    assert groups[:4] == [[name] * 2 for name in ("PanTool", "BoxZoomTool", "WheelZoomTool", "ResetTool")]
    assert groups[4:] == [["HoverTool"], ["HoverTool"], ["CrosshairTool"] * 2]
    assert grid.toolbar.active_drag is grid.toolbar.tools[1]
    plots = [child for child, *_ in grid.children]
    assert all(isinstance(plot, BokehPlot) for plot in plots) and plots[0].x_range is plots[1].x_range


def test_numbers_of_any_kind() -> None:
    """Arrays keep their numbers and kind; what is no number in JSON is written as Bokeh has it."""
    columns = {"x": np.array([1.5, np.nan], dtype=np.float32), "y": np.arange(2, dtype=np.int8), "z": [np.float64(0.5), np.inf]}
    plot = Plot()
    plot.add_glyph(data_source(columns), Model("Line", x=column("x"), y=column("y")))
    [renderer] = Document.from_json(json.loads(document_text(grid_of([plot])))["doc"]).roots[0].children[0][0].renderers
    data = renderer.data_source.data
    np.testing.assert_array_equal(data["x"], columns["x"])
    assert data["x"].dtype == np.float32 and data["y"].dtype == np.int8 and data["z"] == [0.5, np.inf]


def test_dashes_are_those_that_bokeh_means_by_the_names() -> None:
    assert set(DASHES) == set(DashPattern) and dict(DASHES) == Dashes._dash_patterns


def test_the_script_is_bokehs() -> None:
    ours, theirs = bokeh_script(), Resources(mode="inline", components=["bokeh"], log_level="error").js_raw
    assert ours.splitlines()[-1] == theirs[-1] and ours.rsplit("\n", 1)[0].strip() in theirs[0]
