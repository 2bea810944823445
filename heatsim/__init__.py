# SPDX-License-Identifier: GPL-3.0-or-later
"""heatsim: will this self-oscillating induction heater hold? Simulate it before winding it."""

__version__ = "0.1.0"
