# SPDX-License-Identifier: GPL-3.0-or-later
"""Questions of `match` on worker processes."""

from __future__ import annotations

from functools import partial
from pathlib import Path

import numpy as np
import pytest

from heatsim.scenario.scenario import Scenario
from heatsim.studies.match import pool as match_pool
from heatsim.studies.match.captures import compared
from heatsim.studies.match.pool import MatchPool
from heatsim.tasks import Failed, Task


@pytest.mark.slow
@pytest.mark.ngspice
def test_a_long_question_is_not_taken_for_one_that_hangs(checkout: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Forty simulations in a row, and a worker that may be silent for no longer than a few of them take: on a busy machine the
    two minutes of everyday went by within one response surface, and its fault was lost."""
    heater = Scenario.from_file(checkout / "scenarios" / "bench-heater.toml").heater("loaded")
    setting = heater, compared(heater), 200
    with MatchPool(1) as pool:
        start = pool.one(("start", (setting, 60.0)))
        monkeypatch.setattr(match_pool, "Task", partial(Task, silence=4.0))
        found = pool.one(("surface", (setting, start, "right choke on a weaker ring")))
    assert not isinstance(found, Failed)
    assert np.count_nonzero(found[2]) > 20
