# SPDX-License-Identifier: GPL-3.0-or-later
"""What is odd about a record, in the words of the field."""

from __future__ import annotations

import numpy as np

from heatsim.studies.match.data import Layout
from heatsim.studies.match.oddities import parts


def test_every_number_of_a_record_has_its_name_and_size() -> None:
    """Real and imaginary parts of a line count together: 3 and 4 are 5 over root two."""
    orders = {"tank.voltage": np.array([0, 2, 3]), "drain.left.voltage": np.array([0, 1, 2])}
    layout = Layout(orders, {"tank.voltage": np.zeros(2), "drain.left.voltage": np.zeros(1)})
    rest = np.zeros(layout.size)
    rest[:2] = -7.0, 2.0
    (real, imaginary), (drain, _) = layout.pairs()
    rest[real][2], rest[imaginary][2] = 3.0, 4.0
    rest[drain][1] = -6.0
    rest[imaginary.stop + 1] = 9.0
    told = {name: times for times, name in parts(layout, rest)}
    assert len(told) == 2 + 3 + 2 + 3 + 1
    assert told.pop("frequency") == 7.0 and told.pop("size of the tank voltage") == 2.0
    assert abs(told.pop("harmonic 3 of the tank voltage") - 5 / np.sqrt(2)) < 1e-12
    assert abs(told.pop("fundamental of the left drain voltage") - 6 / np.sqrt(2)) < 1e-12
    assert told.pop("harmonics 50 to 74 of the tank voltage together") == 9.0
    assert {"mean of the left drain voltage", "harmonic 2 of the left drain voltage"} < set(told) and not any(told.values())
