# SPDX-License-Identifier: GPL-3.0-or-later
"""The report of a check: the verdict on the terminal (`show`), and a folder with page, pictures and data (`write_folder`)."""

from heatsim.report.check.folder import whole_dict, write_folder
from heatsim.report.check.terminal import show

__all__ = ["show", "whole_dict", "write_folder"]
