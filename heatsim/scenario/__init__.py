# SPDX-License-Identifier: GPL-3.0-or-later
"""Files the user writes: scenarios, catalogues, model files and ring tests, read within bounds and checked.

`Scenario` is a validated file with its cases, `RingTest` the bench test of an unknown ring, `builtin` the catalogue that comes
with heatsim. Every fault is told with file, line, field, what was given and what is allowed. No physics.
"""

from heatsim.scenario.catalogue import builtin, catalogue_with
from heatsim.scenario.ringtest import RampCapture, RingTest
from heatsim.scenario.scenario import Scenario

__all__ = ["RampCapture", "RingTest", "Scenario", "builtin", "catalogue_with"]
