# SPDX-License-Identifier: GPL-3.0-or-later
"""The report of a match: progress and text on the terminal (`watching`, `show`), a folder with the page (`write_folder`)."""

from heatsim.report.match.folder import plain, write_folder
from heatsim.report.match.terminal import show, watching

__all__ = ["plain", "show", "watching", "write_folder"]
