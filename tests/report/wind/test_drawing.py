# SPDX-License-Identifier: GPL-3.0-or-later
"""The drawing of a winding: as many turns and layers as the winding has, and no wire in another one's place."""

import math
from dataclasses import replace
from itertools import combinations

import pytest
from matplotlib.collections import EllipseCollection, LineCollection
from matplotlib.figure import Figure

from heatsim.report.wind.drawing import above_picture, cut_picture, figure, told
from heatsim.report.wind.lay import FREE_SECTOR, lay
from tests.support.circuits import QUICK, cases

WINDINGS = {
    "as built": {},
    "one wire": {"strands": 1},
    "few turns": {"turns": 3, "strands": 1},
    "one turn": {"turns": 1, "strands": 2},
    "layers that end within a turn": {"turns": 33, "strands": 3},
    "twisted": {"turns": 12, "strands": 7, "lay": "twisted", "diameter": 0.8e-3, "overall": 0.87e-3},
    "off the core": {"looseness": 0.5e-3},
    "one strand too many for a layer": {"turns": 21},
    "full to the last wire": {"turns": 43, "strands": 1},
    "thin": {"turns": 150, "strands": 2, "diameter": 0.5e-3, "overall": 0.56e-3},
}


def built(stem="bench-heater", **changes):
    """The core of a demo heater's choke, wound otherwise."""
    core = cases(next(path for path in QUICK if path.stem == stem))["loaded"][0].chokes[0].core
    return replace(core, winding=replace(core.winding, **changes))


CORES = {name: built(**changes) for name, changes in WINDINGS.items()} | {"small rings": built("bench-heater-small-rings")}


@pytest.mark.parametrize("core", CORES.values(), ids=CORES.keys())
def test_turns_and_layers_are_the_windings(core):
    laid, fill = lay(core), core.winding.fill(core.ring)
    assert sorted({wire.turn for wire in laid.wires}) == list(range(1, core.winding.turns + 1))
    each = core.winding.wires // core.winding.turns
    assert all(sum(wire.turn == turn for wire in laid.wires) == each for turn in (1, core.winding.turns))
    assert tuple(sum(wire.layer == k + 1 for wire in laid.wires) for k in range(len(fill.layers))) == fill.layers
    assert sum(laid.turns_of(k + 1) for k in range(len(fill.layers))) == pytest.approx(core.winding.turns)


@pytest.mark.parametrize("core", CORES.values(), ids=CORES.keys())
def test_no_wire_is_in_anothers_place(core):
    laid, former, fill = lay(core), core.winding.former(core.ring), core.winding.fill(core.ring)
    for a, b in combinations(laid.wires, 2):
        assert math.dist(a.bore, b.bore) >= laid.diameter * (1 - 1e-9)
        assert math.dist(a.outside, b.outside) >= laid.diameter * (1 - 1e-9)
    half = laid.diameter / 2
    for wire in laid.wires:
        inside, outside = math.hypot(*wire.bore), math.hypot(*wire.outside)
        assert fill.free_diameter / 2 - 1e-9 <= inside - half and inside + half <= former.inner_diameter / 2 + 1e-9
        assert former.outer_diameter / 2 - 1e-9 <= outside - half
        assert outside + half <= former.outer_diameter / 2 + laid.diameter * laid.outer + 1e-9


@pytest.mark.parametrize("core", CORES.values(), ids=CORES.keys())
def test_layers_on_the_outside_are_those_of_the_wound_size(core):
    outer = core.winding.former(core.ring).outer_diameter + 2 * core.winding.laid * lay(core).outer
    assert outer == pytest.approx(core.winding.wound(core.ring).outer_diameter)


def test_wires_run_nearly_straight_across_the_face():
    for core in CORES.values():
        for wire in lay(core).wires:
            turned = math.degrees(math.atan2(*wire.outside) - math.atan2(*wire.bore))
            assert abs((turned + 180) % 360 - 180) < 12


def test_a_sector_is_left_free_where_there_is_room():
    assert lay(CORES["few turns"]).free == pytest.approx(FREE_SECTOR) and lay(CORES["twisted"]).free == pytest.approx(FREE_SECTOR)
    full = lay(CORES["full to the last wire"])
    assert full.full and full.free < 360 / 43 and not lay(CORES["few turns"]).full
    angles = sorted(math.atan2(wire.bore[0], -wire.bore[1]) % (2 * math.pi) for wire in lay(CORES["few turns"]).wires)
    assert math.degrees(angles[0]) > FREE_SECTOR / 2 and math.degrees(angles[-1]) < 360 - FREE_SECTOR / 2
    assert angles[1] - angles[0] == pytest.approx(angles[2] - angles[1])


@pytest.mark.parametrize("core", CORES.values(), ids=CORES.keys())
def test_the_picture_draws_every_wire_to_scale(core):
    ax, laid = above_picture(core, Figure().add_subplot()), lay(core)
    circles = [each for each in ax.collections if isinstance(each, EllipseCollection)]
    assert sum(len(each.get_offsets()) for each in circles) == 2 * len(laid.wires)
    assert all(width == pytest.approx(1000 * laid.diameter) for each in circles for width in each.get_widths())
    (runs,) = (each for each in ax.collections if isinstance(each, LineCollection))
    assert len(runs.get_segments()) == len(laid.wires)
    words = [text.get_text() for text in ax.texts]
    assert {"start 1", f"end {core.winding.turns}"} <= set(words) or core.winding.turns == 1 and "start, end" in words


def test_the_cut_has_the_sizes_of_the_wound_ring():
    core = CORES["layers that end within a turn"]
    ax, wound = cut_picture(core, Figure().add_subplot()), core.winding.wound(core.ring)
    edges = [each.get_bbox() for each in ax.patches]
    assert max(box.x1 for box in edges) == pytest.approx(500 * wound.outer_diameter)
    assert min(box.x0 for box in edges if box.x0 > 0) == pytest.approx(500 * wound.inner_diameter)
    assert max(box.y1 for box in edges) == pytest.approx(500 * wound.height)
    words = " ".join(text.get_text().replace("\n", " ") for text in ax.texts)
    assert "hole left 13.9 mm" in words and "2 rings" in words


def test_wire_layers_and_turns_per_layer_are_told():
    core = CORES["layers that end within a turn"]
    told_of = " ".join(told(core, 3.456))
    assert "33 turns of 3 strands side by side: 99 wires through the hole in 3 layers" in told_of
    assert "Cut 3 × 3.46 m, tails included." in told_of
    assert "(layer 1: 13.67 turns; layer 2: 11.33 turns; layer 3: 8 turns)" in told_of
    assert "12 bundles" in told(CORES["twisted"], 1.0)[0] and "30° are left free" in " ".join(told(CORES["twisted"], 1.0))
    assert figure(core).axes[0].get_title(loc="left") == "From above"
