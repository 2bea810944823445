# SPDX-License-Identifier: GPL-3.0-or-later
"""What `heatsim explain` shows: a topic in full (`show`), the list of all (`show_list`), and both as plain data (`as_data`)."""

from heatsim.report.explain.plain import as_data
from heatsim.report.explain.terminal import show, show_list

__all__ = ["as_data", "show", "show_list"]
