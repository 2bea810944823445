# SPDX-License-Identifier: GPL-3.0-or-later
"""A workpiece that leaves the running two-choke stage, or is put in, as ordinary differential equations.

p is 1 with the workpiece in, 0 without, and a straight line between. Its branch carries iw, whose resistance is rw/p, and the
coil's inductance without leads is L(p) = L1 + (1-p) (L0 - L1), L1 that of the coupled pair and L0 that of the empty coil:
    v - r i = d/dt((L(p) + Ll) i + M iw),   Lw diw/dt + M di/dt = -(rw/p) iw
Everything else is as in circuit.py, whose rates for the coil and the workpiece are replaced.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from heatsim.parts.heater import Heater
from tests.support.independent.circuit import Rates, mutual_inductance, state_names, two_choke
from tests.support.independent.measure import Signals
from tests.support.independent.solve import Integrator, Period, periodic, signals

LEAST = 1e-6
"""p that stands for a workpiece gone: its branch then takes a millionth of the loss."""

NAMES = ("coil", "work")


@dataclass(frozen=True)
class Ramp:
    """p: before and after; at: instant from which it changes, and length of the change [s]."""

    before: float
    after: float
    at: float
    length: float

    def __call__(self, time: float) -> tuple[float, float]:
        """p and its rate [1/s]."""
        share = (time - self.at) / self.length
        if not 0 < share < 1:
            return (self.before if share <= 0 else self.after), 0.0
        return self.before + share * (self.after - self.before), (self.after - self.before) / self.length


def moving(heater: Heater, course: Ramp) -> Rates:
    """Right-hand side for the state in the order of `state_names`, of a loaded heater."""
    coil, names, rates = heater.coil, state_names(heater), two_choke(heater)
    primary, mutual, secondary, load = mutual_inductance(heater)
    series, more = coil.resistance + coil.lead_resistance, coil.lead_inductance
    at_coil, at_work = (names.index(name) for name in NAMES)

    def moved(time: float, state: list[float]) -> list[float]:
        found = rates(time, state)
        i, iw = state[at_coil], state[at_work]
        volts = (primary + more) * found[at_coil] + mutual * found[at_work] + series * i
        p, speed = course(time)
        own = primary + (1 - p) * (coil.inductance - primary) + more
        e = volts - series * i - (primary - coil.inductance) * speed * i
        s = -load / max(p, LEAST) * iw
        determinant = own * secondary - mutual**2
        found[at_coil], found[at_work] = (secondary * e - mutual * s) / determinant, (own * s - mutual * e) / determinant
        return found

    return moved


def before(heater: Heater, leaves: bool) -> Period:
    """The settled period from which the workpiece leaves, or into which it is put; from the coil current's rising zero on."""
    full = Ramp(1.0, 1.0, 0.0, 1.0) if leaves else Ramp(0.0, 0.0, 0.0, 1.0)
    flow = Integrator(heater)
    flow.rates = moving(heater, full)
    return periodic(flow, free=20 if leaves else 150)


def after_step(heater: Heater, settled: Period, leaves: bool, length: float, phase: float, duration: float) -> Signals:
    """Signals of a loaded two-choke heater from the start of a movement on.

    settled: `before`; length: of the movement [s]; phase: of the settled period at which it begins [1]; duration: of the record [s]
    """
    flow, period = Integrator(heater), 1 / settled.frequency
    course = Ramp(float(leaves), float(not leaves), 0.0, length)
    flow.rates = moving(heater, replace(course, after=course.before))
    state = flow(settled.start, phase * period)[-1] if phase else settled.start
    flow.rates = moving(heater, course)
    points = round(400 * duration / period)
    ramp = flow(state, length, 100)
    rest = flow(ramp[-1], duration, points, start=length)
    table = np.vstack([ramp, rest])
    return signals(heater, {name: table[:, k] for k, name in enumerate(flow.names)})
