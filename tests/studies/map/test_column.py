# SPDX-License-Identifier: GPL-3.0-or-later
"""The search along one column of a map, by itself: how many points a change takes, and that it is always enclosed."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from heatsim.studies.map.column import GRID, Column, Profile, Stretch, clearance, next_probe
from heatsim.studies.map.prediction import from_edges, from_surfaces
from heatsim.studies.map.surface import STRETCH, Evidence, Sample, Surface, family, relaxed, stretched

WIDTH = 0.005


def sample(u, v, margins):
    """A point; `margins` a headroom, headrooms by limit, or an outcome."""
    if isinstance(margins, str):
        return Sample(u, v, u, v, margins, "", {})
    return Sample(u, v, u, v, "settled", "", margins if isinstance(margins, dict) else {"a: b": margins})


def searched(truth, profile, column=None):
    """Search a column whose headroom is `truth` of v, predicted as `profile`."""
    column = column or Column(0.5)
    while True:
        evidence = Evidence(column.samples)
        v = next_probe(column, profile, evidence, WIDTH, lambda place: place) if column.samples else None
        if not column.samples:
            v = next_probe(column, profile, Evidence(()), WIDTH, lambda place: place)
        if v is None:
            return column, column.course(evidence)
        assert len(column.samples) < 60
        column = column.with_sample(sample(0.5, v, truth(v)))


def predicted(formula):
    """A profile of one limit."""
    return Profile(("a: b",), stretched(np.array([formula(GRID)])), np.ones(len(GRID)))


def test_a_predicted_change_takes_two_points():
    column, course = searched(lambda v: 0.613 - v, predicted(lambda v: 0.6125 - v))
    assert len(column.samples) == 2
    (edge,) = course.edges
    assert edge.low <= 0.613 <= edge.high <= edge.low + WIDTH * 1.001
    assert edge.at == pytest.approx(0.613, abs=1e-4) and edge.upward and edge.limit == "a: b"


@given(st.floats(0.03, 0.97), st.floats(0.03, 0.97), st.sampled_from([1, -1]), st.floats(0.1, 3.0), st.booleans())
def test_any_change_is_enclosed_whatever_was_predicted(true, guess, sign, slope, jumps):
    def truth(v):
        smooth = sign * slope * (true - v) * (1 + 0.5 * v)
        return float(np.sign(smooth) or 1.0) * 0.4 if jumps else smooth

    column, course = searched(truth, predicted(lambda v: sign * (guess - v)))
    (edge,) = course.edges
    assert edge.low <= true <= edge.high <= edge.low + WIDTH * 1.001
    assert edge.upward == (sign > 0)
    assert len(column.samples) <= (22 if jumps else 12)


@given(st.floats(0.05, 0.95))
def test_where_it_starts_is_halved_from_a_first_look(start):
    scan = Column(0.5, tuple(sample(0.5, v, "dead" if v < start else 0.5) for v in (0.0, 0.25, 0.5, 0.75, 1.0)), 5)
    evidence = Evidence(scan.samples)
    profile = from_surfaces(0.5, Surface(evidence), [scan], evidence)
    column, course = searched(
        lambda v: "dead" if v < start else 0.5, Profile(profile.keys, profile.margins, profile.clear, profile.stretches, True), scan
    )
    (edge,) = course.edges
    assert edge.low <= start <= edge.high <= edge.low + WIDTH * 1.001
    assert (edge.limit, edge.upward) == ("dead", False)
    assert len(column.samples) <= 5 + 7


def test_two_changes_in_one_column_are_both_enclosed():
    column, course = searched(lambda v: 0.09 - (v - 0.5) ** 2, predicted(lambda v: 0.088 - (v - 0.498) ** 2))
    assert [edge.upward for edge in course.edges] == [False, True]
    assert [edge.at for edge in course.edges] == [pytest.approx(0.2, abs=1e-3), pytest.approx(0.8, abs=1e-3)]
    assert course.stretches()[0][0] == pytest.approx(0.2, abs=1e-3)
    assert len(column.samples) <= 6


def test_a_column_without_a_change_takes_one_point_where_it_comes_nearest():
    column, course = searched(lambda v: 1.0 - 0.5 * v, predicted(lambda v: 0.9 - 0.5 * v))
    assert [one.v for one in column.samples] == [1.0]
    assert course.usable and course.edges == () and course.ceiling == 1.0


def test_what_was_predicted_wrongly_everywhere_is_put_right():
    column, course = searched(lambda v: -0.2 - v, predicted(lambda v: 0.5 - v))
    assert not course.usable and course.edges == ()
    assert column.samples[-1].v == 0.0


def test_a_surface_is_exact_for_quadratics_and_merges_close_points():
    def margin(u, v):
        return 0.3 - 0.2 * u + 0.4 * v - 0.5 * u * v + 0.1 * v * v

    places = [(u, v) for u in np.linspace(0, 1, 4) for v in np.linspace(0, 1, 4)]
    fitted = Surface(Evidence(tuple(sample(u, v, float(relaxed(margin(u, v)))) for u, v in places)))
    assert fitted.at(0.37, 0.61)[0] == pytest.approx(margin(0.37, 0.61), abs=1e-9)
    pair = Evidence((sample(0.5, 0.5, 0.1), sample(0.5, 0.503, 0.3), sample(0.5, 0.9, 0.3)))
    assert len(Surface(pair, 0.005).places) == 2


@given(st.floats(-5, 5))
def test_stretching_keeps_sign_and_nil(margin):
    assert float(relaxed(stretched(margin))) == pytest.approx(margin, abs=1e-9)
    assert np.sign(stretched(margin)) == np.sign(margin)
    assert abs(float(stretched(margin))) <= abs(margin) + 1e-12 and STRETCH > 0


def test_evidence_tells_why_a_point_has_no_headroom():
    full, part, dead = sample(0, 0, {"a: b": 0.1, "c: d": 0.2}), sample(0, 0.5, {"a: b": 0.1}), sample(0, 1, "dead")
    evidence = Evidence((full, part, dead))
    assert evidence.keys == ("a: b", "c: d")
    assert [evidence.limiting(one) for one in (full, part, dead)] == ["", "not judged: c: d", "dead"]
    assert evidence.least(full) == (0.1, "a: b")
    assert Evidence((part, dead)).limiting(part) == ""
    assert family("choke.left: temperature") == family("choke.right: temperature") == "choke: temperature"


def test_stretches_between_columns_pass_through_their_ends():
    def column(u):
        end = 0.2 + 0.3 * u**2
        return Column(u, (sample(u, end - 0.001, "dead"), sample(u, end + 0.001, 0.5), sample(u, 1.0, 0.5)))

    columns = [column(u) for u in (0.0, 0.25, 0.5, 0.75)]
    evidence = Evidence(tuple(one for each in columns for one in each.samples))
    for way in (from_edges(0.4, columns, evidence), from_surfaces(0.4, Surface(evidence), columns, evidence)):
        (edge,) = way.course().edges
        assert edge.at == pytest.approx(0.2 + 0.3 * 0.16, abs=2e-3)
        assert edge.limit == "dead"


def test_clearance_is_the_distance_to_the_nearest_stretch():
    clear = clearance([Stretch(-1.0, 0.2, "dead"), Stretch(0.8, 2.0, "latched")])
    assert np.interp([0.0, 0.2, 0.3, 0.5, 0.9], GRID, clear) == pytest.approx([-0.2, 0.0, 0.1, 0.3, -0.1], abs=1e-3)
    assert clearance([]).min() == 1.0
