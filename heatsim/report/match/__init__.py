# SPDX-License-Identifier: GPL-3.0-or-later
"""The report of a match: progress and text on the terminal (`watching`, `show`), a folder with the page (`write_folder`); the same
of meter readings (`show_readings`, `write_readings`)."""

from heatsim.report.match.folder import plain, write_folder
from heatsim.report.match.readings import plain_readings, show_readings, write_readings
from heatsim.report.match.terminal import show, watching

__all__ = ["plain", "plain_readings", "show", "show_readings", "watching", "write_folder", "write_readings"]
