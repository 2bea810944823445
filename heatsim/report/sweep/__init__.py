# SPDX-License-Identifier: GPL-3.0-or-later
"""The report of sweeps: progress and tables on the terminal (`watching`, `show`, `show_store`), and pictures.

The pictures are in `pictures`, which loads the plotting library: `draw` chooses the one that fits the sweep.
"""

from heatsim.report.sweep.terminal import done_words, show, show_store, status_data, watching

__all__ = ["done_words", "show", "show_store", "status_data", "watching"]
