# SPDX-License-Identifier: GPL-3.0-or-later
"""A choke's copper in plain ngspice: the loss of a direct current with a sine on it, against complex arithmetic."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from heatsim.netlist.chokes import emit_choke
from heatsim.parts.choke import Choke, Core
from heatsim.parts.curves import LinearCurve
from heatsim.parts.ladder import copper_ladder
from heatsim.parts.ring import RingCore
from heatsim.parts.winding import Winding
from heatsim.physics.ringcore import RingSize
from heatsim.scenario.catalogue import builtin
from tests.netlist.test_library import run
from tests.support.book import CLOSED, known

pytestmark = pytest.mark.ngspice

RING = RingCore(RingSize(27e-3, 12.7e-3, 11e-3), 1, 63e-3, 65e-6)
WINDING = Winding(27, 1, 1.6e-3, 1.7e-3)
MEAN, AMPLITUDE, TANK = 10.0, 3.0, 85e3


def choke() -> Choke:
    core = Core(RING, WINDING, builtin().materials["fe-si-al-60"])
    return Choke("left", LinearCurve(60e-6, 1e-6), WINDING.resistance(RING, 60.0), 1e-15, 60.0, None, core, "unknown")


@pytest.mark.parametrize("order", [1, 3, 12])
def test_loss_of_a_direct_current_with_a_sine_on_it(order: int, tmp_path: Path) -> None:
    """A current source drives it. Each cell is R jwL/(R + jwL); the direct current meets the direct resistance alone. The ledger's
    entries give the same as the voltage across the copper."""
    made, frequency = choke(), order * TANK
    ladder = copper_ladder(made, TANK)
    emission = emit_choke(made, "0", 1e9, ladder)
    lines = [
        "* choke driven by a current",
        *emission.subcircuits,
        f"i1 0 bus sin({MEAN} {AMPLITUDE} {frequency:.9g})",
        emission.lines,
        ".option method=gear reltol=1e-5",
        f".tran {0.002 / frequency:.9g} {40 / frequency + 5 / TANK:.9g} 0 {0.002 / frequency:.9g} uic",
        ".save v(xch_left.x) v(xch_left.y) i(v.xch_left.vs)",
        ".end",
        "",
    ]
    data = run(tmp_path, "\n".join(lines))
    late = data[:, 0] >= data[-1, 0] - 20 / frequency
    time, (x, y, amps) = data[late, 0], data[late, 1:4].T
    lost = np.trapezoid((x - y) * amps, time) / np.ptp(time)
    eddies = next(signal for signal in emission.signals if signal.name.endswith("eddy_voltage"))
    columns = {"v(xch_left.x)": x, "v(xch_left.y)": y, "i(v.xch_left.vs)": amps}
    eddy = np.trapezoid(sum(factor * columns[vector] for factor, vector in eddies.terms) * amps, time) / np.ptp(time)
    s = 2j * np.pi * frequency
    cells = sum(cell.resistance * s * cell.inductance / (cell.resistance + s * cell.inductance) for cell in ladder.cells)
    alone = cells.real * AMPLITUDE**2 / 2
    direct = made.resistance * (MEAN**2 + AMPLITUDE**2 / 2)
    what, by = f"copper of a choke with a sine of order {order} on its current", "impedance of the cells"
    assert lost == known(direct + alone, f"{what}: loss", by, CLOSED, unit="W", rel=5e-3)
    assert eddy == known(alone, f"{what}: loss to eddy currents", by, CLOSED, unit="W", rel=5e-3)
    assert cells.real > made.resistance
