# SPDX-License-Identifier: GPL-3.0-or-later
"""Make scenarios/captures/unknown-ring.csv, the demo capture. All numbers are invented. Run it from the top
folder: python -m tests.support.make_unknown_ring

A Fe-Si-Al-like powder ring (permeability 61.3, half of the core's share left at 18.1 A in 26 turns, exponent 1.83) is
switched onto a bank of 12 V behind 67 mohm, its own winding having 11 mohm; the current is integrated by SciPy, shifted,
and both current and voltage across the ring are given noise and read with 8 bits.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from tests.support.synthetic_rings import TrueRing, quantised, ramp

RING = TrueRing(26.9e-3, 14.7e-3, 11.2e-3, 26, 61.3, "soft", 18.1, 1.83, 0.078, 1.1)
VOLTAGE, OUTSIDE = 12.0, 0.067
"""Step [V]; part of the resistance that lies outside the ring's terminals [ohm]."""

CODE, NOISE, VOLT_CODE, VOLT_NOISE = 0.25, 0.2, 0.08, 0.05
"""Code width and noise rms of current [A] and voltage [V]: 64 A and 20.5 V over the screen."""


def capture() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Time [s], current [A] and voltage [V] as the oscilloscope would store them."""
    found = ramp(RING, VOLTAGE, 1e-3, 50.0)
    rng = np.random.default_rng(20240229)
    time = np.linspace(-22e-6, float(found.t[-1]), 1250)
    true = np.where(time > 0, found.sol(np.maximum(time, 0.0))[0], 0.0)
    current = quantised(true + 0.37 + NOISE * rng.standard_normal(time.size), CODE)
    across = np.where(time > 0, VOLTAGE - OUTSIDE * true, 0.0)
    voltage = quantised(across - 0.11 + VOLT_NOISE * rng.standard_normal(time.size), VOLT_CODE)
    return time + 6.4e-6, current, voltage


def main() -> None:
    """Write the file."""
    time, current, voltage = capture()
    target = Path(__file__).resolve().parents[2] / "scenarios" / "captures" / "unknown-ring.csv"
    target.parent.mkdir(exist_ok=True)
    rows = "".join(f"{t * 1e6:.4f},{i:.2f},{v:.2f}\n" for t, i, v in zip(time, current, voltage, strict=True))
    head = "# invented demo capture, made by tests/support/make_unknown_ring.py\ntime [us],current [A],voltage [V]\n"
    target.write_text(head + rows)


if __name__ == "__main__":
    main()
