# SPDX-License-Identifier: GPL-3.0-or-later
"""The report of a winding: tables on the terminal (`show`), and a folder with card, picture and tables (`write_folder`)."""

from heatsim.report.wind.folder import write_folder
from heatsim.report.wind.terminal import show

__all__ = ["show", "write_folder"]
