# SPDX-License-Identifier: GPL-3.0-or-later
import numpy as np

from heatsim.report.base.thin import thinned


def test_few_samples_are_kept_as_they_are():
    x, y = np.array([0.0, 1.0, 4.0]), np.array([2.0, -1.0, 3.0])
    along, (kept,) = thinned([(x, y)], 3)
    assert along.tolist() == x.tolist() and kept.tolist() == y.tolist()


def test_the_peak_of_every_slice_is_kept():
    rng = np.random.default_rng(7)
    x, y = np.sort(rng.uniform(0, 1, 20_000)), rng.normal(size=20_000)
    y[12_345] = 40.0
    along, (kept,) = thinned([(x, y)], 400)
    assert 200 < along.size <= 402 and set(kept) <= set(y)
    assert kept[np.searchsorted(along, x[12_345])] == 40.0
    edges = np.linspace(x[0], x[-1], 201)
    for low, high in zip(edges[:-1], edges[1:], strict=True):
        here, there = y[(x >= low) & (x < high)], kept[(along >= low) & (along < high)]
        assert there.max() == here.max() and there.min() == here.min()


def test_waves_on_other_samples_lie_on_their_own_straight_lines():
    one, other = (np.array([0.0, 2.0, 4.0]), np.array([0.0, 4.0, 0.0])), (np.array([1.0, 3.0]), np.array([10.0, 30.0]))
    along, (first, second) = thinned([one, other], 100)
    assert along.tolist() == [0, 1, 2, 3, 4]
    assert first.tolist() == [0, 2, 4, 2, 0]
    assert np.isnan(second[[0, 4]]).all() and second[1:4].tolist() == [10, 20, 30]
