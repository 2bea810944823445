# SPDX-License-Identifier: GPL-3.0-or-later
"""Captures as they come from a bench: clipped, reversed, cut short, noisy or not noisy enough."""

from dataclasses import replace

import numpy as np
import pytest

from heatsim.errors import InputError
from heatsim.studies.ring import identify
from heatsim.studies.ring.ramp import code_width, local_noise, quantisation_memory
from tests.support.ring_benches import GAPPED, SOFT, VOLTS, assert_found, bench, keys, record
from tests.support.synthetic_rings import quantised, ramp


@pytest.mark.parametrize("noise", [0.0, 0.1, 0.2, 0.3, 0.5])
def test_the_memory_of_quantisation_is_that_of_a_simulated_quantiser(noise):
    """Correlation of the errors of two samples of one true value, spread evenly over a code; Monte Carlo."""
    rng = np.random.default_rng(1)
    true = rng.uniform(0, 1, 400_000)
    errors = [np.round(true + noise * rng.standard_normal(true.size)) - (true + 0.0) for _ in range(2)]
    common = np.mean(errors[0] * errors[1])
    assert quantisation_memory(noise, 1.0) / 12 == pytest.approx(common, abs=6e-4)


def test_code_width_and_noise_are_read_off_a_record():
    rng, time = np.random.default_rng(2), np.sort(np.random.default_rng(3).uniform(0, 1, 5000))
    seen = quantised(40 * time**2 + 0.3 * rng.standard_normal(5000), 0.25)
    assert code_width(seen) == pytest.approx(0.25)
    assert local_noise(time, seen) == pytest.approx(np.hypot(0.3, 0.25 / np.sqrt(12)), rel=0.05)
    assert code_width(seen + 1e-3 * rng.standard_normal(5000)) == 0.0


def test_a_recorded_voltage_that_sags_rings_true():
    """The voltage across the ring sags from 12 V to 8 V and has an offset; the current channel lags by a sample."""

    def drive(t):
        return 8.0 + 4.0 * np.exp(-t / 60e-6)

    found = ramp(SOFT, drive, 1e-3, 45.0)
    rng, time = np.random.default_rng(5), np.linspace(-20e-6, found.t[-1] * 0.999, 1500)
    late = np.maximum(time - 0.1e-6, 0.0)
    current = quantised(found.sol(late)[0] + 0.3 + 0.15 * rng.standard_normal(time.size), 0.22)
    voltage = quantised(np.where(time > 0, drive(np.maximum(time, 0)), 0.0) + 0.2 + 0.06 * rng.standard_normal(time.size), 0.08)
    result = identify(bench(SOFT, time, current, voltage, lines=f'resistance = "{SOFT.resistance} ohm"\n'))
    assert_found(result, SOFT)
    truth = result.quantities["half_current_a"]
    assert truth.low <= SOFT.half_current <= truth.high


def test_a_record_that_starts_inside_the_ramp_is_used_and_flagged():
    found = ramp(SOFT, VOLTS, 1e-3, 45.0)
    time = np.linspace(0.15 * found.t[-1], found.t[-1], 1000)
    current = quantised(found.sol(time)[0] + 0.2 * np.random.default_rng(2).standard_normal(1000), 0.2)
    result = identify(bench(SOFT, time, current, lines=f'resistance = "{SOFT.resistance} ohm"\n'))
    assert "no-flat-part" in keys(result)
    for key, truth in (("permeability", SOFT.permeability), ("half_current_a", SOFT.half_current)):
        estimate = result.quantities[key]
        assert estimate.low <= truth <= estimate.high
        assert estimate.value == pytest.approx(truth, rel=0.05)


def test_a_clipped_top_is_flagged_and_not_fitted():
    time, current = record(SOFT, reach=2.6)
    top = 0.7 * current.max()
    result = identify(bench(SOFT, time, np.minimum(current, top), lines=f'resistance = "{SOFT.resistance} ohm"\n'))
    assert "clipped" in keys(result)
    assert result.data.reach < 1.01 * top
    assert_found(result, SOFT)


def test_a_flat_top_that_is_no_clipping_is_kept():
    """A loop so resistive that its current settles: the end is flat, at many equal codes, but rises gently into it."""
    ring = replace(GAPPED, resistance=12.0 / (1.15 * GAPPED.half))
    found = ramp(ring, VOLTS, 12 * ring.zero / ring.resistance, 1e9)
    time = np.linspace(-0.1 * found.t[-1], found.t[-1], 1500)
    current = quantised(np.where(time > 0, found.sol(np.maximum(time, 0))[0], 0.0), 0.02)
    result = identify(bench(ring, time, current))
    assert "clipped" not in keys(result)
    assert result.value("series_resistance_ohm") == pytest.approx(ring.resistance, rel=0.01)


def test_what_follows_the_step_is_cut_off_and_said():
    time, current = record(SOFT, reach=2.5)
    after = np.arange(1, 400) * (time[1] - time[0]) + time[-1]
    fall = quantised(current[-1] * np.exp(-(after - time[-1]) / 30e-6), 0.05)
    result = identify(
        bench(SOFT, np.append(time, after), np.append(current, fall), lines=f'resistance = "{SOFT.resistance} ohm"\n')
    )
    assert "falls" in keys(result)
    assert_found(result, SOFT)


def test_a_reversed_probe_and_lone_spikes_do_no_harm():
    time, current = record(SOFT, reach=2.5)
    current[[100, 500, 900]] += [30.0, -25.0, 40.0]
    result = identify(bench(SOFT, time, -current, lines=f'resistance = "{SOFT.resistance} ohm"\n'))
    assert {"reversed", "spikes"} <= keys(result)
    assert_found(result, SOFT)


def test_long_records_are_averaged_not_thinned():
    time, current = record(SOFT, noise=0.01, count=60000, reach=2.5)
    result = identify(bench(SOFT, time, current))
    assert result.data.ramp.block > 10 and result.data.ramp.time.size * result.data.ramp.block > 59000
    assert_found(result, SOFT, 0.005, 0.01)


def test_no_noise_at_all_still_gives_intervals_that_hold_the_truth():
    """Without dither every sample of a code errs alike; intervals must not shrink with the number of samples."""
    wide = []
    for count in (1000, 8000):
        time, current = record(SOFT, noise=0.0, bits=6, count=count, reach=2.5)
        result = identify(bench(SOFT, time, current, lines=f'resistance = "{SOFT.resistance} ohm"\n'))
        found = result.quantities["half_current_a"]
        assert found.low <= SOFT.half_current <= found.high
        wide.append(found.standard_error)
    assert wide[1] > 0.6 * wide[0]


@pytest.mark.parametrize(
    ("shape", "words"),
    [
        (lambda time: np.where(time > 0, 0.0, 5.0), "rising"),
        (lambda time: np.sin(1e9 * time), "ris"),
        (lambda time: np.append(np.zeros(time.size - 1), 5.0), "ris"),
    ],
    ids=["falls", "noise", "last-sample"],
)
def test_a_capture_without_a_ramp_is_refused_or_called_useless(shape, words):
    time = np.linspace(-1e-5, 1e-4, 300)
    try:
        result = identify(bench(SOFT, time, shape(time)))
    except InputError as error:
        assert words in str(error)
    else:
        assert keys(result) & {"misfit", "not-converged", "reversed"}
