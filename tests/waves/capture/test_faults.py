# SPDX-License-Identifier: GPL-3.0-or-later
"""Quantisation step and noise against closed forms, and every fault on signals made to have it, and not to have it."""

from __future__ import annotations

import numpy as np
import pytest

from heatsim.waves.capture import read_capture
from heatsim.waves.capture.faults import judge
from heatsim.waves.capture.levels import even_noise, floor_noise, refined_width

F, N = 87.3e3, 4000
T = 3e-8 * np.arange(N)
PHASE = (F * T) % 1
SINE = 140.0 * np.sin(2 * np.pi * F * T)


def quantised(values, step):
    return step * np.round(values / step)


def judged(values, time=T):
    return judge("CH1", "V", time, values, True, False, 1.0)


def has(found, words):
    return any(words in fault for fault in found.faults)


def sine_fit_residual(values, time, frequency=F):
    """Rms of what a sine of known frequency leaves (three-parameter fit, IEEE 1241/1057; memory)."""
    angle = 2 * np.pi * frequency * time
    design = np.column_stack([np.cos(angle), np.sin(angle), np.ones_like(angle)])
    left = values - design @ np.linalg.lstsq(design, values, rcond=None)[0]
    return float(np.sqrt(np.sum(left**2) / (values.size - 3)))


@pytest.mark.parametrize("step", [0.05, 0.4, 1.1])
def test_noise_of_a_busy_quantiser_is_its_step_over_root_twelve(step):
    """Error of a uniform quantiser crossed by a large signal: white, step/sqrt(12) (Widrow and Kollar, Quantization
    Noise, 2008; memory). The sine goes through more than a code a sample on average."""
    time = 7.3e-7 * np.arange(20000)
    values = quantised(140 * np.sin(2 * np.pi * F * time), step)
    found = judged(values, time)
    assert found.step == pytest.approx(step, rel=1e-9)
    assert sine_fit_residual(values, time) == pytest.approx(step / np.sqrt(12), rel=0.03)
    assert found.noise == pytest.approx(step / np.sqrt(12), rel=0.1)


@pytest.mark.parametrize("spread", [0.1, 0.5, 2.0])
@pytest.mark.parametrize("step", [0.0, 1.1])
@pytest.mark.parametrize("pace", [3e-8, 4e-7, 1.5e-6])
def test_noise_is_that_of_a_sine_fit(spread, step, pace):
    """Gauss noise and quantisation add in squares: sqrt(s^2 + q^2/12) (the same source)."""
    time = pace * np.arange(30000)
    values = 140 * np.sin(2 * np.pi * F * time) + spread * np.random.default_rng(3).standard_normal(time.size)
    values = quantised(values, step) if step else values
    truth = np.hypot(spread, step / np.sqrt(12))
    assert sine_fit_residual(values, time) == pytest.approx(truth, rel=0.03)
    assert judged(values, time).noise == pytest.approx(truth, rel=0.1)


def test_noise_of_noise_alone_and_of_a_smooth_signal():
    noise = np.random.default_rng(4).standard_normal(50000)
    assert even_noise(noise) == pytest.approx(1.0, rel=0.03) and floor_noise(noise) == pytest.approx(1.0, rel=0.03)
    assert even_noise(SINE) < 1e-5


def test_the_step_is_found_through_print_and_conversion():
    """8 bits over 10.24 divisions of 5 V, printed with three digits behind the point."""
    step = 51.2 / 256
    values = np.round(quantised(20 * np.sin(2 * np.pi * F * T), step) * 1.000357, 3)
    assert refined_width(values) == pytest.approx(step * 1.000357, rel=1e-4)
    assert judged(SINE).step is None


@pytest.mark.parametrize("spread", [0.0, 0.6])
@pytest.mark.parametrize("step", [0.0, 1.1])
@pytest.mark.parametrize("share", [0.6, 0.9, 0.95])
def test_clipping_is_seen_on_its_side_and_only_there(share, step, spread):
    values = SINE + spread * np.random.default_rng(5).standard_normal(N)
    for low, high in ((True, False), (False, True), (True, True), (False, False)):
        cut = np.clip(values, -140 * share if low else -1e9, 140 * share if high else 1e9)
        found = judged(quantised(cut, step) if step else cut)
        assert found.clipped == (low, high)
        assert has(found, "lowest value") == low and has(found, "highest value") == high


@pytest.mark.parametrize("samples", [60, 300, 2000, 20000])
@pytest.mark.parametrize("bits", [6, 8, 12])
def test_whole_sines_are_not_called_clipped(samples, bits):
    """However long a crest stays in its outermost code."""
    for phase in np.linspace(0, 1, 7):
        for size in (0.93, 0.9577, 0.99):
            values = size * np.sin(2 * np.pi * (np.arange(3 * samples) / samples + phase))
            assert judged(quantised(values, 2.0 ** (1 - bits)), 1e-8 * np.arange(3 * samples)).clipped == (False, False)


def test_a_drain_that_lies_at_zero_is_not_clipped():
    drain = np.maximum(SINE, 0)
    assert judged(quantised(drain, 1.1)).clipped == (False, False)
    assert judged(drain).clipped == (False, False)


def test_too_few_samples_a_period_are_counted_with_what_they_cost():
    """Peak missed by at most 1 - cos(pi/n): half a step away from it."""
    time = 1 / (8.1 * F) * np.arange(400)
    found = judged(140 * np.sin(2 * np.pi * F * time), time)
    assert has(found, "only 8.1 samples a period") and has(found, "by up to 7.4 %") and not has(found, "aliasing")
    time = 1 / (2.9 * F) * np.arange(400)
    assert has(judged(140 * np.sin(2 * np.pi * F * time), time), "aliasing")
    assert not judged(SINE).faults


@pytest.mark.parametrize("share", [0.1, 0.3, 0.45])
def test_ringing_at_the_edges_does_not_shorten_the_period(share):
    """A share of the amplitude, at 40 times the frequency, from every zero of the sine on, e times less after a tenth of a period.
    By a single narrow band the period comes out too short."""
    after = (2 * PHASE) % 1 / 2
    ringing = share * 140 * np.exp(-after / 0.1) * np.sin(2 * np.pi * 40 * after)
    noise = np.random.default_rng(3).standard_normal(N)
    assert judged(SINE + ringing + noise).period == pytest.approx(1 / F, rel=2e-3)


def test_a_tone_near_half_the_sampling_rate_is_pointed_out():
    rate = 1 / 3e-8
    found = judged(SINE + 4 * np.sin(2 * np.pi * 0.46 * rate * T) + np.random.default_rng(6).standard_normal(N))
    assert has(found, "close to half the sampling rate") and has(found, f"{0.46 * rate:.3g}"[:4])
    assert not has(judged(SINE + np.random.default_rng(6).standard_normal(N)), "half the sampling rate")


def ring(frequency, decay, twice=False):
    phase = (2 * PHASE) % 1 / 2 if twice else PHASE
    after = phase / F
    return np.exp(-after / decay) * np.sin(2 * np.pi * frequency * after)


BASES = {"gate": (np.where(PHASE < 0.5, 12.0, 0.0), 3.0, 0.06), "tank": (SINE, 8.0, 0.6), "drain": (np.maximum(SINE, 0), 6.0, 0.6)}


@pytest.mark.parametrize("base", BASES)
@pytest.mark.parametrize(("frequency", "decay"), [(3e6, 1e-6), (8e6, 3e-7), (8e6, 1e-6)])
def test_ringing_after_edges_is_seen_with_its_frequency(base, frequency, decay):
    signal, size, spread = BASES[base]
    noise = spread * np.random.default_rng(7).standard_normal(N)
    found = judged(quantised(signal + size * ring(frequency, decay, base == "tank") + noise, 2 * spread))
    said = next(fault for fault in found.faults if "rings at about" in fault)
    assert float(said.split("about ")[1].split()[0]) == pytest.approx(frequency, rel=0.08)
    assert "or the probe" in said


@pytest.mark.parametrize(
    "signal",
    [
        *(base for base, _, _ in BASES.values()),
        np.clip(SINE, 0, 12),
        SINE * (1 - 0.3 * np.abs(SINE / 140) ** 9),
        np.where(PHASE < 0.5, 1 - np.exp(-PHASE / F / 5e-7), np.exp(-(PHASE - 0.5) / F / 5e-7)) * 12,
        SINE + 20 * np.sin(6 * np.pi * F * T),
    ],
    ids=["gate", "tank", "drain", "clipped", "saturating", "slow-gate", "third-harmonic"],
)
@pytest.mark.parametrize("seed", range(4))
def test_edges_and_distortion_are_not_ringing(signal, seed):
    noise = np.random.default_rng(seed).standard_normal(N)
    assert not has(judged(quantised(signal + 4e-3 * np.ptp(signal) * noise, np.ptp(signal) / 220)), "rings")


def test_a_signal_that_lost_its_mean_is_pointed_out():
    drain = np.maximum(SINE, 0) + 0.3 * np.random.default_rng(8).standard_normal(N)
    assert has(judged(drain - drain.mean()), "AC coupled")
    assert not has(judged(drain), "AC coupled") and not has(judged(SINE), "AC coupled")


def read(tmp_path, values):
    rows = "\n".join(f"{t:.9g},{v:.6g}" for t, v in zip(T, values, strict=True))
    (tmp_path / "x.csv").write_text("time [s],CH1 [V]\n" + rows)
    return read_capture(tmp_path / "x.csv")


def test_what_a_channel_cannot_be_is_doubted(tmp_path):
    drain = np.maximum(SINE, 0)
    as_drain = {"CH1": "drain.left.voltage"}
    assert read(tmp_path, drain).contradictions(as_drain) == ()
    assert "other way round" in read(tmp_path, -drain).contradictions(as_drain)[0]
    lost = read(tmp_path, drain - drain.mean()).contradictions(as_drain)[0]
    assert "AC coupled" in lost and float(lost.split("about ")[1].split()[0]) == pytest.approx(drain.mean(), abs=0.2)
    assert read(tmp_path, SINE).contradictions({"CH1": "tank.voltage"}) == ()


def test_dead_and_noisy_channels_are_named(tmp_path):
    assert "CH1 never changes" in read(tmp_path, np.full(N, 3.0)).faults
    noise = np.random.default_rng(9).normal(size=N)
    assert "no channel shows anything above its noise" in read(tmp_path, noise).faults
