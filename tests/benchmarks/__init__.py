# SPDX-License-Identifier: GPL-3.0-or-later
"""Benchmarks of the ways to a steady state, side by side in one run: `python -m tests.benchmarks` from the checkout.

Nothing here is a test of speed: a loaded machine is not a fault. The numbers go to RESULTS.md, which is written by the
run and never by hand.
"""

import os

for _library in ("OMP", "OPENBLAS", "MKL"):  # before numpy and the simulator are loaded: one thread, as the workers have
    os.environ[f"{_library}_NUM_THREADS"] = "1"
