# SPDX-License-Identifier: GPL-3.0-or-later
"""Makes `scenarios/captures/distorted.csv`: `python -m tests.support.captures.distorted [file]`.

The bench heater on the rings of `scenarios/bench-heater-small-rings.toml`, the right choke wound with half of its turns: what
its builder scoped across the coil and on the left drain, and could not explain. Integrated with tolerances so fine that no other
computer's last digit can turn over a code of the 8-bit record.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

from heatsim.scenario.scenario import Scenario
from tests.support.captures.circuit import Faulty
from tests.support.captures.make import repeated
from tests.support.captures.orbit import Flow, Settled, settle, waveforms
from tests.support.captures.scope import Channel, Probe, Scope, digitise

ROOT = Path(__file__).resolve().parents[3]
TARGET = ROOT / "scenarios" / "captures" / "distorted.csv"
SCENARIO = ROOT / "scenarios" / "bench-heater-small-rings.toml"
CHANGES = {"choke.right.turns": 10}
CHANNELS = {"tank.voltage": "CH1", "drain.left.voltage": "CH2"}
SCOPE = Scope(samples=5000, periods=19.13, noise=0.6, jitter=4e-10, trigger=0.23, clock=8e-6)
PROBES = {"tank.voltage": Probe(gain=1.007, bandwidth=50e6), "drain.left.voltage": Probe(gain=0.994, bandwidth=60e6)}
INTERVAL = 4e-8
SEED = 20_250


def source() -> tuple[Flow, Settled]:
    """The heater and its settled period."""
    heater = Scenario.from_file(SCENARIO).change(CHANGES).heater("loaded")
    coarse = settle(Flow(Faulty(heater)))
    fine = Flow(Faulty(heater), rtol=1e-8)
    return fine, settle(fine, coarse, tolerance=1e-3)


def record() -> tuple[np.ndarray, dict[str, Channel]]:
    """Instants [s] and channels."""
    flow, settled = source()
    period, generator = waveforms(flow, settled), np.random.default_rng(SEED)
    time = np.arange(SCOPE.samples) * INTERVAL
    phase = (time * (1 + SCOPE.clock) + generator.normal(0, SCOPE.jitter, time.size)) / settled.period + SCOPE.trigger
    clean = {name: repeated(probe.seen(period[name], 1 / settled.period), phase) for name, probe in PROBES.items()}
    return time, {name: digitise(values, SCOPE, PROBES[name], generator) for name, values in clean.items()}


def text() -> str:
    """The file: preamble, names, units, rows. Time counts from the trigger, a quarter into the record."""
    time, channels = record()
    rows = np.column_stack([time - 0.25 * time[-1], *(channel.values for channel in channels.values())])
    head = [
        "Record length,5000",
        f"Sample interval,{INTERVAL:.6e}",
        "Vertical resolution,8 bit",
        *(f"{short} coupling,DC" for short in CHANNELS.values()),
        "Probe attenuation,100,10",
        "",
    ]
    table = [f"{t:.6e},{a:.4g},{b:.4g}" for t, a, b in rows.tolist()]
    return "\n".join([*head, ",".join(["Time", *CHANNELS.values()]), "s,V,V", *table, ""])


if __name__ == "__main__":
    (Path(sys.argv[1]) if len(sys.argv) > 1 else TARGET).write_text(text(), encoding="ascii")
