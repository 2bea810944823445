# SPDX-License-Identifier: GPL-3.0-or-later
"""The report of a search in the catalogues: the tables on the terminal (`show`)."""

from heatsim.report.parts.terminal import show

__all__ = ["show"]
