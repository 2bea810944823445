# SPDX-License-Identifier: GPL-3.0-or-later
"""Remedies for a heater that fails: few joint changes, each simulated as a whole and judged by `check`'s own rules.

Flow: a check's result -> what could be changed (`changes`, `windings`) -> predictions that order the candidates (`predict`)
-> searches, each after one kind of remedy (`search`) -> candidates simulated on a pool (`runner`) -> the answer (`study`).
Nothing is called a remedy that was only predicted.
"""

from heatsim.studies.remedy.changes import Change
from heatsim.studies.remedy.result import Remedies, Remedy, Tried
from heatsim.studies.remedy.study import find_remedies, fixed_text, in_line

__all__ = ["Change", "Remedies", "Remedy", "Tried", "find_remedies", "fixed_text", "in_line"]
