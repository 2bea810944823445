# SPDX-License-Identifier: GPL-3.0-or-later
"""What a meter may read of a running heater, and how far such a meter is usually off."""

from __future__ import annotations

from dataclasses import dataclass

from heatsim.parts.heater import Heater
from heatsim.studies.match.estimates import NORMAL_95


@dataclass(frozen=True)
class Meter:
    """A kind of meter: its usual error, half of a 95 % interval, as a share of the reading and on top of that [unit].

    The errors of all meters here are common practice, no source.
    """

    name: str
    share: float
    floor: float = 0.0

    def deviation(self, value: float) -> float:
        """Standard deviation of a reading [its unit]."""
        return (self.share * abs(value) + self.floor) / NORMAL_95


AMMETER = Meter("DC ammeter or the supply's display", 0.015, 0.02)
CLAMP = Meter("DC clamp meter", 0.025, 0.1)
COUNTER = Meter("frequency counter", 0.001)
PEAK = Meter("peak detector or oscilloscope with a high-voltage probe", 0.04)
RMS = Meter("true-rms voltmeter that reaches ten times the frequency", 0.03)
PROBE = Meter("AC current probe", 0.04)
THERMOMETER = Meter("thermocouple", 0.0, 3.0)


@dataclass(frozen=True)
class Readable:
    """A quantity of the steady state that a meter reads.

    key: as in results.json, without its unit
    suffix: of the measure's key after the unit
    unit: in which it is given
    model: standard deviation of what heatsim itself may be off, as a share of the value, of a temperature's rise; an estimate from
        its differences to an independent integration of the same parts, of a temperature the band of loss and cooling
    timed: it depends on the time since the heater was switched on, cold
    """

    key: str
    suffix: str
    unit: str
    meter: Meter
    model: float
    timed: bool = False

    @property
    def measure(self) -> str:
        """Key of the measure."""
        return f"{self.key}_{self.suffix}"


def readables(heater: Heater) -> tuple[Readable, ...]:
    """What can be read of a heater, in the order in which it is offered."""
    found = [
        Readable("supply.mean_current", "a", "A", AMMETER, 0.004),
        Readable("tank.frequency", "hz", "Hz", COUNTER, 0.0005),
        Readable("tank.peak_voltage", "v", "V", PEAK, 0.002),
        Readable("tank.rms_voltage", "v", "V", RMS, 0.002),
        Readable("coil.rms_current", "a", "A", PROBE, 0.002),
        Readable("coil.peak_current", "a", "A", PROBE, 0.002),
        Readable("capacitor.rms_current", "a", "A", PROBE, 0.002),
        *(Readable(f"drain.{side}.peak_voltage", "v", "V", PEAK, 0.005) for side in ("left", "right")),
    ]
    for choke in heater.chokes:
        part = f"choke.{choke.side}"
        found += [
            Readable(f"{part}.mean_current", "a", "A", CLAMP, 0.006),
            Readable(f"{part}.rms_current", "a", "A", PROBE, 0.005),
            Readable(f"{part}.ripple_current", "a", "A", PROBE, 0.01),
            Readable(f"{part}.temperature", "c", "°C", THERMOMETER, 0.15, True),
        ]
    return tuple(found)


def model_error(what: Readable, value: float, ambient: float) -> float:
    """Standard deviation of what heatsim itself may be off [unit of `what`]; ambient: [°C]."""
    return what.model * abs(value - ambient if what.timed else value)


NO_THERMAL_MODEL = (
    "cannot be used: heatsim has no thermal model of the MOSFETs yet, so the temperature of a case or of a heat sink tells it "
    "nothing"
)
"""Said of temperatures of cases and sinks."""
