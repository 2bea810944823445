# SPDX-License-Identifier: GPL-3.0-or-later
"""The report of a tolerance study: progress and answer on the terminal, page, picture and data."""

from heatsim.report.tolerance.folder import plain, write_folder
from heatsim.report.tolerance.terminal import done_words, show, watching

__all__ = ["done_words", "plain", "show", "watching", "write_folder"]
