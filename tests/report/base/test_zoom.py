# SPDX-License-Identifier: GPL-3.0-or-later
import json
import re

import numpy as np
import pytest

from heatsim.report.base.page import template
from heatsim.report.base.style import LEFT, RIGHT
from heatsim.report.base.zoom import Axis, Level, Line, Panel, script, zoomable_traces
from heatsim.report.base.zoom_map import Boundary, Cells, Mark, zoomable_map
from tests.support.browser import opened

TIME = np.linspace(0.0, 40e-6, 81)
LEFT_V = 170.0 * np.abs(np.sin(np.pi * TIME / 20e-6))
HOSTILE = 'left </script><b>@y0 $x "q"'


def traces(**options):
    lines = [Line("left", TIME, LEFT_V, LEFT), Line("right", TIME, 1e-3 * LEFT_V, RIGHT, "dashed")]
    panels = [Panel("Drains", "V", lines, [Level(150.0, "rating 150 V"), Level(-900.0, "far")]), Panel("None", "A", [])]
    other = Panel("Current", "A", [Line(HOSTILE, TIME, 2.0 + TIME * 1e5)])
    return zoomable_traces([*panels, other], "drains and current", Axis("time", "s"), **options)


def a_map():
    x, y = np.linspace(20.0, 60.0, 5), np.array([50e-6, 100e-6, 150e-6])
    cells = Cells(x, y, np.arange(15.0).reshape(3, 5), "headroom", "%", ["#ffffff", "#1f6b63"], 0.0, 14.0)
    names = np.full((3, 5), "choke: temperature", dtype=object)
    names[1, 2] = "left <switch>"
    line = Boundary("edge of the usable", np.array([20.0, 60.0]), np.array([60e-6, 60e-6]))
    more = {("ends by", None): names}
    return zoomable_map(cells, "headroom", Axis("supply", "V"), Axis("coil", "H"), more, [line], [Mark("as built", 50.0, 140e-6)])


def document(snippet):
    return json.loads(re.search(r'<script type="application/json">(.*?)</script>', snippet)[1])


def page(path, *snippets):
    blocks = {
        "title": "t",
        "script": "{{ head|safe }}",
        "main": "<h1>Zoom</h1><figure class='card still'>still</figure><figure class='zoomed'>{{ all|join|safe }}</figure>",
    }
    text = "".join(f"{{% block {name} %}}{content}{{% endblock %}}" for name, content in blocks.items())
    base = template("base.html").environment.from_string('{% extends "base.html" %}' + text)
    path.write_text(base.render(head=script(), all=snippets), encoding="utf-8")
    return path


def test_the_same_figure_is_the_same_text():
    assert traces() == traces() and a_map() == a_map()


def test_no_panel_no_figure():
    assert zoomable_traces([Panel("Drains", "V", [])], "nothing") == ""


def test_names_are_no_markup():
    text = traces()
    assert text.count("</script>") == 1 and "<b>" not in text


def test_panels_share_the_axis_along():
    text = json.dumps(document(traces(view=(10e-6, 20e-6))))
    (made,) = re.findall(r'"id": "(p\d+)", "attributes": \{"start": 1e-05, "end": 2e-05', text)
    shared = re.findall(r'"x_range": \{(?:"type": "object", "name": "Range1d", )?"id": "(p\d+)"', text)
    assert text.count('"name": "Plot"') == 2 and shared == [made, made]


def test_a_level_far_off_is_said():
    assert "Drains; far: below this picture" in traces() and "rating 150 V" in traces()


def test_a_page_needs_nothing_from_elsewhere():
    head = script()
    assert head.count("<script>") == 2 and "src=" not in re.sub(r"\.src=", "", head[:200]) and len(head) < 1_500_000


def test_the_pointer_reads_the_sample_below_it(tmp_path):
    with opened(page(tmp_path / "page.html", traces())) as shown:
        read = shown.point(TIME[23], panel=0)
        assert read == {"time": "11.5000 µs", "left": f"{LEFT_V[23]:.1f} V", "right": f"{LEFT_V[23]:.1f} mV"}
        assert shown.point(TIME[40], panel=1)[HOSTILE] == "4.000 A"
        shown.box(TIME[20], TIME[30])
        assert shown.along(0) == shown.along(1) == pytest.approx((TIME[20], TIME[30]), rel=0.02)
        assert shown.point(TIME[23], panel=0) == read
        shown.assert_sound(figures=1)


@pytest.mark.slow
@pytest.mark.parametrize("dark", [False, True])
def test_traces_and_maps_in_either_scheme(tmp_path, dark):
    with opened(page(tmp_path / "page.html", a_map(), traces()), 400, dark) as shown:
        assert shown.point(40.0) == {"supply": "40.00 V", "coil": "100.0 µH", "headroom": "7.000 %", "ends by": "left <switch>"}
        shown.assert_sound(figures=2)


@pytest.mark.slow
def test_without_script_the_still_picture_is_shown(tmp_path):
    path = page(tmp_path / "page.html", traces())
    for script_runs in (False, True):
        with opened(path, script=script_runs) as shown:
            assert shown.page.locator(".still").is_visible() != script_runs
            assert shown.page.locator(".zoomable").is_visible() == script_runs
            shown.page.emulate_media(media="print")
            assert shown.page.locator(".still").is_visible() and not shown.page.locator(".zoomable").is_visible()
