# SPDX-License-Identifier: GPL-3.0-or-later
"""Every cause shows in the record where an expert would look, and a sound heater does not look like it.

Each number is read from the noisy 8-bit record and held against the span of sound heaters with their own spread of parts.
What is expected of each cause is common practice, no source, or follows from the stage: the two half waves of the tank
voltage are the two sides' work, so what differs between the sides makes even harmonics and what both share odd ones.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import numpy as np
import pytest

from heatsim.scenario.scenario import Scenario
from tests.support.captures import causes as c
from tests.support.captures.features import conducting, even, fitted, fundamental, harmonics, odd, rough, swing
from tests.support.captures.make import Made, make_capture, seed_of
from tests.support.captures.scope import PROBE_KINDS, Probe, faulty_probe
from tests.support.independent.circuits import FOLDER

BENCH = Scenario.from_file(FOLDER / "bench-heater.toml")
BOTH = ("tank.voltage", "drain.left.voltage")
pytestmark = pytest.mark.slow
SOUND_SEEDS = range(300, 305)


def lines(made: Made, name: str = "tank.voltage", count: int = 12) -> np.ndarray:
    """Harmonics of a channel of the record."""
    return fitted(made.time, made.channels[name], made.truth["frequency"], count)


def drain_ringing(made: Made) -> float:
    """Of the left drain's harmonics 25 to 120, as far as the record goes, less what its noise puts there [V rms]."""
    count = min(120, int(made.scope.samples / made.scope.periods / 2.2))
    if count < 60:
        return float("nan")
    detail = made.details["drain.left.voltage"]
    noise = (detail.noise**2 + detail.step**2 / 12) * 2 * (count - 24) / made.time.size
    return float(np.sqrt(max(rough(lines(made, "drain.left.voltage", count)) ** 2 - noise, 0.0)))


FEATURES: dict[str, Callable[[Made], float]] = {
    "even": lambda made: even(lines(made, count=6)),
    "odd": lambda made: odd(lines(made)),
    "peak": lambda made: fundamental(lines(made)) / made.truth["supply.voltage"],
    "frequency": lambda made: made.truth["frequency"],
    "ringing": drain_ringing,
    "swing": lambda made: swing(made.time, made.channels["tank.voltage"], made.truth["frequency"]),
    "choke ripple": lambda made: float(np.ptp(made.period["choke.left.current"])),
    "choke difference": lambda made: abs(float(np.mean(made.period["choke.left.current"] - made.period["choke.right.current"]))),
    "on voltage": lambda made: float(np.median(_low(made.period["drain.left.voltage"]))),
    "conducting": lambda made: conducting(made.period["drain.left.voltage"]),
}


def _low(drain: np.ndarray) -> np.ndarray:
    return drain[drain < 0.5 * np.median(drain[drain > 0.1 * drain.max()])]


@cache
def sound() -> dict[str, tuple[float, float]]:
    """Least and most of every feature over sound heaters."""
    made = [make_capture(BENCH, "loaded", c.NOTHING, seed, BOTH) for seed in SOUND_SEEDS]
    table = {name: [feature(one) for one in made] for name, feature in FEATURES.items()}
    return {name: (float(np.nanmin(values)), float(np.nanmax(values))) for name, values in table.items()}


EXPECTED = [
    (c.SATURATING, "core too small", {"choke ripple": 1.3, "odd": 1.0}),
    (c.WEAKER, "fewer turns", {"even": 4.0}),
    (c.WEAKER, "other ring", {"even": 2.5}),
    (c.WEAKER, "smaller ring", {"even": 4.0}),
    (c.GATE_RINGING, "long gate leads", {"ringing": 1.05, "conducting": -0.998}),
    (c.GATE_DRIVE, "pull-up too large", {"odd": 1.0, "on voltage": 1.05}),
    (c.GATE_DRIVE, "gate supply too low", {"odd": 1.0, "peak": -1.0, "on voltage": 1.5}),
    (c.GATE_DRIVE, "threshold too high", {"odd": 1.0, "peak": -0.99, "on voltage": 1.5}),
    (c.LOAD, "larger workpiece", {"odd": 1.5, "peak": -0.99}),
    (c.SUPPLY, "mains ripple", {"swing": 2.0}),
    (c.SUPPLY, "switching ripple", {"swing": 1.5}),
    (c.SUPPLY, "foldback", {"peak": -0.95}),
    (c.CAPACITOR, "some lost", {"frequency": 1.05}),
    (c.CAPACITOR, "all faded", {"frequency": 1.03}),
    (c.CAPACITOR, "one unequal", {"frequency": 1.02}),
    (c.CAPACITOR, "series resistance", {"odd": 1.0, "peak": -1.0}),
    (c.TURN, "in a choke", {"even": 4.0}),
    (c.TURN, "in the coil", {"frequency": 1.05}),
    (c.CONNECTION, "tank lead", {"peak": -1.0}),
    (c.CONNECTION, "choke feed", {"even": 1.3, "choke difference": 3.0}),
]
"""Cause, kind and features: the least multiple of the most that a sound heater shows; negative: at most that multiple of
the least."""


@pytest.mark.parametrize("cause, kind, features", EXPECTED, ids=[f"{cause}: {kind}" for cause, kind, _ in EXPECTED])
def test_cause_shows_where_an_expert_looks(cause: str, kind: str, features: dict[str, float]) -> None:
    made = make_capture(BENCH, "loaded", cause, seed_of(BENCH, cause, kind, 300), BOTH)
    assert made.kind == kind
    seen = {name: FEATURES[name](made) for name in features}
    told = ", ".join(f"{name} {value:.4g}, sound {sound()[name]}" for name, value in seen.items())
    for name, factor in features.items():
        low, high = sound()[name]
        assert seen[name] > factor * high if factor > 0 else seen[name] < -factor * low, told


def test_the_table_holds_every_cause_but_the_probe() -> None:
    assert {cause for cause, _, _ in EXPECTED} == set(c.CAUSES) - {c.PROBE, c.NOTHING}


@pytest.mark.parametrize("kind", PROBE_KINDS)
def test_wrong_probe_shows_on_a_sound_drain(kind: str) -> None:
    """What each does to the drain voltage of a sound heater."""
    made = make_capture(BENCH, "loaded", c.NOTHING, 300, BOTH)
    period, frequency = made.period["drain.left.voltage"], made.truth["frequency"]
    peak, generator = float(period.max()), np.random.default_rng(1)
    probe = next(probe for probe in (faulty_probe(generator, Probe(), peak, True) for _ in range(200)) if probe.kind == kind)
    seen = probe.seen(period, frequency)
    level, mean = float(np.median(_low(seen))), float(np.mean(seen[:-1]))
    swings, true = float(np.ptp(seen)) / peak, float(np.ptp(period)) / peak
    shown = {
        "compensation": abs(swings / true - 1) > 0.1 and mean == pytest.approx(np.mean(period[:-1]), rel=1e-3),
        "ground ringing": float(np.std(seen - period)) > 0.1,
        "offset": abs(level) > 0.04 * peak and swings == pytest.approx(true, rel=0.01),
        "clipping": probe.clip >= 0.1,
        "slow": float(np.ptp(np.diff(seen))) < 0.8 * float(np.ptp(np.diff(period))),
        "wrong factor": abs(np.log(swings / true)) > 0.6,
        "AC coupled": abs(mean) < 1e-6 and level < -0.2 * peak,
    }
    assert shown[kind], (kind, probe)


def test_larger_severity_shows_more() -> None:
    """Unequal chokes: the fewer turns, the more second harmonic."""
    made = [make_capture(BENCH, "loaded", c.WEAKER, seed_of(BENCH, c.WEAKER, "fewer turns", first), BOTH) for first in (0, 40)]
    by_weak = sorted(
        (min(one.truth[f"choke.{side}.inductance"] for side in ("left", "right")), even(harmonics(one.period["tank.voltage"])))
        for one in made
    )
    assert [share for _, share in by_weak] == sorted((share for _, share in by_weak), reverse=True)
