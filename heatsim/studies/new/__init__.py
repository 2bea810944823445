# SPDX-License-Identifier: GPL-3.0-or-later
"""`new`: a first scenario from a few answers. What is not asked stands in the file as an estimate, marked as such.

`Draft` takes the answers one by one, `questions` says what to ask, `first_scenario` does all of it at once.
"""

from heatsim.studies.new.draft import ASKED, SOURCES, Draft, first_scenario, heater_name, refuse_idle
from heatsim.studies.new.questions import QUESTIONS, Question

__all__ = ["ASKED", "QUESTIONS", "SOURCES", "Draft", "Question", "first_scenario", "heater_name", "refuse_idle"]
