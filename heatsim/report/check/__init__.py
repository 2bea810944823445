# SPDX-License-Identifier: GPL-3.0-or-later
"""The report of a check: the verdict on the terminal (`show`), and a folder with page, pictures and data (`write_folder`).

Of several builds also what tells them apart: `show_beside`, `write_beside`, `beside_dict`.
"""

from heatsim.report.check.beside import beside_dict, show_beside, write_beside
from heatsim.report.check.folder import load, load_page, load_pictures, whole_dict, write_folder
from heatsim.report.check.terminal import show

__all__ = ["beside_dict", "load", "load_page", "load_pictures", "show", "show_beside", "whole_dict", "write_beside", "write_folder"]
