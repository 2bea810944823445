# SPDX-License-Identifier: GPL-3.0-or-later
"""The whole heater of one case, in electrical values: what the netlist is written from."""

from __future__ import annotations

import math
from contextlib import suppress
from dataclasses import dataclass, replace

from heatsim.errors import InputError
from heatsim.parts.choke import Choke
from heatsim.parts.conductor import Conductor, Joint
from heatsim.parts.damage import SIDES, Damage
from heatsim.parts.gate import GateDrive
from heatsim.parts.ladder import Ladder, copper_ladder
from heatsim.parts.sink import RESISTANCE_SPREAD, ThermalPath
from heatsim.parts.switch import Supply, Switch
from heatsim.parts.tank import CapacitorBank, CoupledBranch, WorkCoil, Workpiece, coupled_branch
from heatsim.parts.water import WaterCircuit
from heatsim.physics.mosfet import parallel_share
from heatsim.physics.stage import choke_flux_swing, choke_rms_voltage, supply_current


@dataclass(frozen=True)
class Heater:
    """chokes: (left, right) of the two-choke circuit or (centre,) of the one-choke, centre-tapped one;
    half_coupling: between the halves of a tapped coil; workpiece: None when idle; bus_inductance: between each drain
    node and the tank [H]; stray_corner: frequency above which stray inductances are lossy [Hz];
    ambient [°C] and air_speed [m/s]: round the chokes; damage: of the parts; conductors, water (through
    the coil) and silicon (how the switches are cooled): not in the netlist, judged by the currents and losses of a run.
    """

    supply: Supply
    chokes: tuple[Choke, ...]
    switch: Switch
    gate: GateDrive
    capacitors: CapacitorBank
    coil: WorkCoil
    workpiece: Workpiece | None
    bus_inductance: float
    stray_corner: float
    half_coupling: float
    ambient: float
    air_speed: float = 0.0
    damage: Damage = Damage()
    conductors: tuple[Conductor | Joint, ...] = ()
    water: WaterCircuit | None = None
    silicon: ThermalPath | None = None

    @property
    def tapped(self) -> bool:
        """True for the one-choke, centre-tapped circuit."""
        return len(self.chokes) == 1

    @property
    def gate_supply_voltage(self) -> float:
        """What the pull-ups and drivers hang on [V]."""
        return self.supply.voltage if self.gate.from_main else self.gate.supply_voltage

    def bank(self, side: str) -> Switch:
        """The devices of a side that are not open."""
        gone = self.damage.open_devices[SIDES.index(side)]
        return replace(self.switch, count=self.switch.count - gone) if gone else self.switch

    @property
    def resistance_spread(self) -> float:
        """Of the on-resistances of a bank's devices, up and down [1]."""
        return self.silicon.resistance_spread if self.silicon else RESISTANCE_SPREAD

    def heaviest_share(self, side: str) -> float:
        """Current of the device of a bank that carries most, over the mean of all [1]: its on-resistance is at the lower end of the
        spread, all others' at the upper. While channels are fully on, resistances share the current.
        """
        count, spread = self.bank(side).count, self.resistance_spread
        return count * float(parallel_share(1 - spread, 1 + spread, count))

    @property
    def heaviest_of_all(self) -> float:
        """The same of the bank in which it is most [1]."""
        return max(map(self.heaviest_share, SIDES))

    @property
    def loaded_inductance(self) -> float:
        """Coil with leads and workpiece [H]."""
        coil = self.workpiece.inductance if self.workpiece else self.coil.inductance
        steel = self.damage.steel
        return coil + self.coil.lead_inductance + (steel.seen_inductance if steel else 0.0)

    @property
    def tank_inductance(self) -> float:
        """Of the whole loop [H]: coil with leads and workpiece, and the capacitor bank's own."""
        return self.loaded_inductance + self.capacitors.inductance

    @property
    def loaded_resistance(self) -> float:
        """Series resistance of the loop coil, leads, workpiece, capacitors and their bars [ohm]."""
        coil = self.workpiece.resistance if self.workpiece else self.coil.resistance
        steel = self.damage.steel
        bank = self.capacitors.resistance + self.capacitors.rails_resistance
        return coil + self.coil.lead_resistance + bank + (steel.seen_resistance if steel else 0.0)

    @property
    def frequency(self) -> float:
        """Expected tank frequency [Hz] with the chokes' zero-current inductances in the loop; w^2 = 1/(L C) - (r/L)^2, L being
        coil, leads, workpiece and the capacitor bank's own inductance.

        While one switch conducts, the other side's choke Lc lies across the tank Lt and the supply lifts the tank
        voltage by v0 = Vdc Lt/(Lt+Lc). The half sine is then faster, w0 sqrt(1+Lt/Lc), but must run longer to come
        back to zero, by 2 v0/(pi Vdc w). Together, to first order, w = w0 [1 + (1/2 - 2/pi^2) Lt/Lc]; own derivation,
        held by tests/independent against two integrations (the usual "both chokes in series" gives 1/4, which is not
        seen). A centre choke feeds both halves alike and leaves the frequency alone.
        """
        coil = self.tank_inductance
        damping = (self.loaded_resistance / coil) ** 2
        square = max(1 / (coil * self.capacitors.capacitance) - damping, damping)
        mean = 0.0 if self.tapped else sum(0.5 / choke.curve.inductance_zero for choke in self.chokes)
        return math.sqrt(square) / (2 * math.pi) * (1 + (0.5 - 2 / math.pi**2) * coil * mean)

    @property
    def quality(self) -> float:
        """Q of the tank at the expected frequency."""
        return 2 * math.pi * self.frequency * self.loaded_inductance / self.loaded_resistance

    @property
    def supply_current(self) -> float:
        """Mean supply current [A] of the ideal stage, into R = L/(C r) across the tank."""
        across = self.loaded_inductance / (self.capacitors.capacitance * self.loaded_resistance)
        return float(supply_current(self.supply.voltage, across))

    @property
    def coil_current(self) -> float:
        """Amplitude of the coil's current [A] that is expected.

        The ideal stage's pi Vdc across coil and leads, Vdc less the drop that the supply current leaves in supply, chokes and
        switches.
        """
        inductance, resistance = self.loaded_inductance, self.loaded_resistance
        across = inductance / (self.capacitors.capacitance * resistance)
        chokes = sum(choke.resistance for choke in self.chokes) / len(self.chokes) ** 2
        drop = self.supply.resistance + chokes + self.switch.on_resistance / self.switch.count
        voltage = self.supply.voltage / (1 + drop * math.pi**2 / (2 * across))
        return math.pi * voltage / math.hypot(2 * math.pi * self.frequency * inductance, resistance)

    @property
    def choke_swing(self) -> float:
        """Flux linkage of a choke, peak to peak [Wb], in the ideal stage."""
        return float(choke_flux_swing(self.supply.voltage, self.frequency, "one" if self.tapped else "two"))

    @property
    def mutual_inductance(self) -> float:
        """Of the two chokes [H], linear beside their saturable own: air is the path of what leaves a ring."""
        zero = [choke.curve.inductance_zero for choke in self.chokes]
        return 0.0 if self.tapped else self.damage.choke_coupling * math.sqrt(math.prod(zero))

    @property
    def largest_mutual(self) -> float:
        """What no mutual inductance of the two chokes exceeds [H]: the geometric mean of their inductances at the peaks of their
        currents in the ideal stage, mean and half of the ripple above it. More would give back more energy than there is."""
        mean = self.supply_current / 2
        peaks = [mean + self.choke_swing / 2 / float(choke.curve.inductance(mean)) for choke in self.chokes]
        return math.sqrt(math.prod(float(c.curve.inductance(i)) for c, i in zip(self.chokes, peaks, strict=True)))

    def core_resistance(self, choke: Choke) -> float:
        """Resistance [ohm] beside a choke that takes its core loss at the ideal stage's voltage and flux swing.

        A choke at the centre tap sees twice the tank frequency.
        """
        voltage = float(choke_rms_voltage(self.supply.voltage, "one" if self.tapped else "two"))
        return choke.core_loss_resistance(voltage, self.choke_swing, (2 if self.tapped else 1) * self.frequency)

    def ladder(self, choke: Choke) -> Ladder:
        """The copper of a choke against frequency, made for the tank frequency and its harmonics."""
        return copper_ladder(choke, self.frequency)

    def largest_share(self, present: float) -> int:
        """Largest share of the whole workpiece [%] up to 200 that some coupling gives, 0 for none; `present` [1]: its share now."""
        piece = self.workpiece
        for percent in range(200, 0, -1) if piece else ():
            with suppress(InputError):
                if piece and replace(self, workpiece=piece.share(self.coil, percent / 100 / present)).branch:
                    return percent
        return 0

    @property
    def branch(self) -> CoupledBranch | None:
        """The workpiece as a coupled branch at the expected frequency."""
        return coupled_branch(self.coil, self.workpiece, self.frequency) if self.workpiece else None
