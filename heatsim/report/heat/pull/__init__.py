# SPDX-License-Identifier: GPL-3.0-or-later
"""The report of a piece that leaves the coil, or goes in: on the terminal (`show_pull`), and a folder with page and pictures
(`write_pull`)."""

from heatsim.report.heat.pull.folder import write_pull
from heatsim.report.heat.pull.terminal import show_pull

__all__ = ["show_pull", "write_pull"]
