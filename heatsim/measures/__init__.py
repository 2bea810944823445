# SPDX-License-Identifier: GPL-3.0-or-later
"""Named numbers from waveforms, whether simulated or captured.

basics     mean, rms, peaks, factors            periods    crossings, frequency, window, drift, period two
harmonics  Fourier over whole periods, THD      switching  drain voltage at turn-on
ringing    a gate's ring after its edges        lines      harmonics of a noisy record by least squares
energy     the balance of a ledger              startup    settling time, overshoot
short      lines of one to two periods        solving    least squares of lines
gather     all of them as one flat table        errors     by how much rounding moves each
"""

from heatsim.measures.gather import MeasureContext, Measures, measure

__all__ = ["MeasureContext", "Measures", "measure"]
