# SPDX-License-Identifier: GPL-3.0-or-later
"""The report of a map: progress and the answer on the terminal (`watching`, `show`), picture and data (`write_folder`)."""

from heatsim.report.map.folder import plain, write_folder
from heatsim.report.map.terminal import done_words, show, watching

__all__ = ["plain", "done_words", "show", "watching", "write_folder"]
