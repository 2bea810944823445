# SPDX-License-Identifier: GPL-3.0-or-later
"""The report of a heat: the answer on the terminal (`show`), progress (`watching`), and a folder with page, pictures and tables;
and that of coil advice (`coils`)."""

from heatsim.report.heat.folder import write_folder
from heatsim.report.heat.progress import done_words, watching
from heatsim.report.heat.terminal import show

__all__ = ["done_words", "show", "watching", "write_folder"]
