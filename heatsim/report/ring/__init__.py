# SPDX-License-Identifier: GPL-3.0-or-later
"""The report of an identified ring: the text on the terminal (`show`), and a folder of files to go on with (`write_folder`)."""

from heatsim.report.ring.folder import write_folder
from heatsim.report.ring.terminal import show

__all__ = ["show", "write_folder"]
