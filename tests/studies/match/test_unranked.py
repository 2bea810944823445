# SPDX-License-Identifier: GPL-3.0-or-later
"""Channels beside the ranking against a best fit that is known: sines and direct currents, mean, rms and peak in closed form."""

from __future__ import annotations

import math
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from heatsim.scenario.scenario import Scenario
from heatsim.studies.match.captures import CaptureRequest, read
from heatsim.studies.match.unranked import contradictions, not_ranked, numbers
from heatsim.waves import Waveforms
from heatsim.waves.capture import Probe

ROOT = Path(__file__).resolve().parents[3]
BENCH = Scenario.from_file(ROOT / "scenarios" / "bench-heater.toml")
PHASE = 2 * math.pi * np.linspace(0.0, 1.0, 2001)
FIT = SimpleNamespace(
    waveforms=Waveforms(
        PHASE / (2 * math.pi * 85e3),
        {"supply.current": 8.1 + 0.2 * np.cos(PHASE), "coil.current": 100 * np.sin(PHASE)},
        {"supply.current": "A", "coil.current": "A"},
    )
)
"""8.1 A from the supply with a ripple of 0.2 A, 100 A in the coil."""


def captured(folder: Path, direct: float, current: float, stated: dict[str, Probe] | None = None, signals: str = "supply coil"):
    """A record of 12.4 periods with the tank, the supply's direct current and the coil's [A], 0.1 A of noise; as it was read."""
    time = np.arange(6000) * 12.4 / 85e3 / 6000
    phase, generator = 2 * math.pi * 85e3 * time, np.random.default_rng(3)
    path = folder / "scope.npz"
    np.savez(
        path,
        time=time,
        tank=131 * np.cos(phase) + generator.normal(0, 0.3, time.size),
        supply=direct + 0.2 * np.sin(phase) + generator.normal(0, 0.1, time.size),
        coil=current * np.cos(phase + 0.4) + generator.normal(0, 0.1, time.size),
    )
    named = {"tank": "tank.voltage"} | {name: f"{name}.current" for name in signals.split()}
    return read(BENCH, CaptureRequest(path, "loaded", None, named, stated or {}), numbers=False)


def test_mean_rms_and_peak_are_those_of_whole_periods() -> None:
    found = numbers(3.0 + 4.0 * np.sin(PHASE), np.gradient(PHASE), coupled=False)
    assert found == pytest.approx({"mean": 3.0, "rms": math.sqrt(9 + 8), "peak": 7.0}, rel=1e-3)
    alone = numbers(3.0 + 4.0 * np.sin(PHASE), np.gradient(PHASE), coupled=True)
    assert alone == pytest.approx({"rms": math.sqrt(8), "peak": 4.0}, rel=1e-3)


def test_every_channel_beside_the_ranking_is_told_with_its_numbers(tmp_path: Path) -> None:
    supply, coil = not_ranked(captured(tmp_path, 8.2, 103.0), FIT)
    assert (supply.channel, supply.signal, supply.unit, coil.signal) == ("supply", "supply.current", "A", "coil.current")
    assert supply.captured["mean"] == pytest.approx(8.2, abs=0.01) and supply.fitted["mean"] == pytest.approx(8.1, abs=0.001)
    assert coil.captured["rms"] == pytest.approx(103 / math.sqrt(2), rel=0.002)
    assert supply.differs == coil.differs == (), "3 % is a probe's gain"


def test_what_a_probes_gain_does_not_explain_is_told(tmp_path: Path) -> None:
    supply, coil = not_ranked(captured(tmp_path, 12.3, 94.0), FIT)
    assert supply.differs == ("mean", "rms", "peak")
    assert coil.differs == ("rms", "peak"), "the mean is zero on both sides"


def test_a_channel_coupled_to_alternating_current_has_no_mean_to_compare(tmp_path: Path) -> None:
    (supply,) = not_ranked(captured(tmp_path, 0.0, 0.0, {"supply": Probe(coupling="ac")}, "supply"), FIT)
    assert set(supply.captured) == set(supply.fitted or {}) == {"rms", "peak"}
    (plain,) = not_ranked(captured(tmp_path, 0.0, 0.0, signals="supply"), FIT)
    assert "mean" in plain.differs


def test_a_signal_that_the_fit_has_not_is_held_against_nothing(tmp_path: Path) -> None:
    fit = SimpleNamespace(waveforms=FIT.waveforms.only(["coil.current"]))
    (supply,) = not_ranked(captured(tmp_path, 8.1, 0.0, signals="supply"), fit)
    assert supply.fitted is None and supply.differs == () and supply.captured["mean"] == pytest.approx(8.1, abs=0.01)


def test_nothing_is_told_where_every_channel_ranks(tmp_path: Path) -> None:
    assert not_ranked(captured(tmp_path, 8.1, 100.0, signals=""), FIT) == ()


@pytest.mark.parametrize(
    "seen, noise, differs",
    [(104.9, 0.0, []), (105.1, 0.0, ["peak"]), (94.9, 0.0, ["peak"]), (112.0, 2.0, []), (114.0, 2.0, ["peak"])],
)
def test_the_bound_of_a_peak_is_a_share_of_it_and_the_noise(seen: float, noise: float, differs: list[str]) -> None:
    fit = {"mean": 0.0, "rms": 70.7, "peak": 100.0}
    assert list(contradictions(fit | {"rms": math.hypot(70.7, noise), "peak": seen}, fit, noise)) == differs
