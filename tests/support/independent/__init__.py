# SPDX-License-Identifier: GPL-3.0-or-later
"""The same circuit integrated a second time, with SciPy: shares the parts' values with heatsim, and no netlist."""
