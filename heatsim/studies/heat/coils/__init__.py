# SPDX-License-Identifier: GPL-3.0-or-later
"""Coil advice: how turns, bore and length of the work coil change a heat, and which coil suits a piece."""

from heatsim.studies.heat.coils.result import CoilAdvice, CoilEstimate, CoilShape, CoilState, ConfirmedCoil, ConfirmedState
from heatsim.studies.heat.coils.study import coil_advice

__all__ = ["CoilAdvice", "CoilEstimate", "CoilShape", "CoilState", "ConfirmedCoil", "ConfirmedState", "coil_advice"]
