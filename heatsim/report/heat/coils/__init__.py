# SPDX-License-Identifier: GPL-3.0-or-later
"""The report of coil advice: on the terminal (`show_advice`), and a folder with page, pictures and table (`write_advice`)."""

from heatsim.report.heat.coils.advice import show_advice, write_advice

__all__ = ["show_advice", "write_advice"]
