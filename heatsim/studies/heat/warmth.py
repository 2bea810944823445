# SPDX-License-Identifier: GPL-3.0-or-later
"""How warm chokes and switches get while a piece is heated, each on its own time scale.

Every simulated state says what a part would lose and give off at each of its temperatures (`heatsim.parts.warmup.Warming`). Over
each stretch of time a part is warmed as each of the states would warm it, and what comes of that is weighted as all measures are.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from heatsim.parts.heater import Heater
from heatsim.parts.silicon import SiliconHeat
from heatsim.parts.tank import Workpiece
from heatsim.parts.thermal import CEILING
from heatsim.parts.warmup import Warming
from heatsim.physics.numeric import FloatArray as Array
from heatsim.studies.check import DESTROYED, DESTROYED_JUNCTION, Measured, heat_of_period, silicon_heat
from heatsim.studies.heat.responses import Responses, SimulatedPoint, loaded

LEAST_WEIGHT = 0.02
"""Weight of a state [1] below which it is left out where parts warm up."""


@dataclass(frozen=True)
class PartsHeat:
    """Warm-up of the parts at one simulated state, by the part's name; parts whose warm-up is not known are left out."""

    warming: Mapping[str, Warming]
    junctions: Mapping[str, SiliconHeat]


@dataclass
class PartsWarmth:
    """The parts along a heat. heater: without the piece; responses: the simulated states."""

    heater: Heater
    responses: Responses

    @cached_property
    def by_state(self) -> list[PartsHeat]:
        """Warm-up of the parts at each state."""
        return [self._at(point) for point in self.responses.points]

    @property
    def parts(self) -> tuple[str, ...]:
        """Chokes and sides whose warm-up is known at every state."""
        states = self.by_state
        return tuple(name for name in states[0].warming if all(name in each.warming for each in states)) if states else ()

    def along(self, time: Array, loads: Sequence[Workpiece]) -> dict[str, Array]:
        """Temperature [°C] of each part at the times [s] of a heat that starts with cold parts, shape (n,).

        loads: the coil with the piece at these times
        """
        found = {name: np.full(time.shape, self.heater.ambient) for name in self.parts}
        for place in range(1, time.size):
            weights, step = self.responses.weights(loads[place]), float(time[place] - time[place - 1])
            for name, celsius in found.items():
                celsius[place] = self._after(name, weights, step, float(celsius[place - 1]))
        return found

    def _after(self, name: str, weights: Array, step: float, celsius: float) -> float:
        """Temperature [°C] a step [s] later: as each of the states would have it, weighted."""
        counting = [k for k, weight in enumerate(weights) if abs(weight) > LEAST_WEIGHT]
        total = sum(weights[k] for k in counting)
        reached = sum(weights[k] * self.by_state[k].warming[name].temperature(step, celsius) for k in counting)
        return float(reached / total)

    def measures(self, celsius: Mapping[str, float], load: Workpiece) -> dict[str, Measured]:
        """The keys under which temperatures are judged, at one instant; celsius: of each part."""
        near = self.by_state[int(np.argmax(self.responses.weights(load)))]
        found: dict[str, Measured] = {}
        for name, value in celsius.items():
            if name.startswith("choke."):
                judged = value if value < CEILING else DESTROYED
                found |= dict.fromkeys((f"{name}.temperature_c", f"{name}.run_temperature_c"), judged)
                continue
            junction = self._junction(near.junctions[name], value)
            found |= dict.fromkeys((f"{name}.junction_temperature_c", f"{name}.run_junction_temperature_c"), junction)
            found |= dict.fromkeys((f"{name}.sink_temperature_c", f"{name}.run_sink_temperature_c"), value)
        return found

    @staticmethod
    def _junction(heat: SiliconHeat, sink: float) -> float:
        """Junction temperature [°C] of the worst device over a sink of a temperature [°C]."""
        if heat.warming is None or heat.junctions is None or sink >= heat.warming.ceiling:
            return DESTROYED_JUNCTION
        return float(np.interp(sink, heat.warming.celsius, heat.junctions))

    def _at(self, point: SimulatedPoint) -> PartsHeat:
        measures, waves = point.result.measures, point.result.waveforms
        heater = loaded(self.heater, point.load)
        found: dict[str, Warming] = {}
        frequency = measures.get("tank.frequency_hz")
        if waves is not None and isinstance(frequency, float):
            period = waves.between(max(waves.time[-1] - 1 / frequency, waves.time[0]), waves.time[-1])
            heats = {f"choke.{choke.side}": heat_of_period(choke, heater, period, measures) for choke in heater.chokes}
            found |= {name: heat.warming for name, heat in heats.items() if heat.warming is not None}
        silicon = {f"switch.{side}": heat for side, heat in silicon_heat(heater, measures).items()}
        found |= {name: heat.warming for name, heat in silicon.items() if heat.warming is not None}
        return PartsHeat(found, silicon)
