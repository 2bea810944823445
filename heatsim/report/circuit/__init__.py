# SPDX-License-Identifier: GPL-3.0-or-later
"""The circuit of a heater as it is simulated, as a picture: parts with their values and, after a check, what they carry and
which of them fail. `circuit_picture` draws it from the `Heater` that the netlist is written from; `table` says which symbol stands
for which elements of the netlist.
"""

from heatsim.report.circuit.layout import lay_out
from heatsim.report.circuit.picture import circuit_picture

__all__ = ["circuit_picture", "lay_out"]
