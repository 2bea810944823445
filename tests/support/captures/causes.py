# SPDX-License-Identifier: GPL-3.0-or-later
"""What can be wrong with a heater, each cause in the kinds a bench meets, with the range in which an expert would name it.

A draw is a change that may be applied to any case of the heater (idle and loaded alike) and the values it set, in SI units.
Ranges are common practice where nothing is said, no source; those that lean on a formula give it. Every draw comes on top of
`tolerances`, the ordinary spread of sound parts.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from heatsim.parts.choke import Choke, wound_curve
from heatsim.parts.curves import GappedCurve
from heatsim.parts.heater import Heater
from heatsim.parts.tank import Workpiece
from tests.support.captures.circuit import CoilTurn, Faulty, Foldback, Turn

Random = np.random.Generator
Change = Callable[[Heater], Faulty]


@dataclass(frozen=True)
class Ripple:
    """Voltage of the supply, peak to peak [V], frequency [Hz] and phase at the record's start [rad]."""

    size: float
    frequency: float
    phase: float


@dataclass(frozen=True)
class Draw:
    """kind: of the cause; apply: to a sound heater; truth: values set [SI]; ripple: of the supply, if any; fastest: frequency
    the record should resolve, as one who looks for it would set it [Hz]."""

    kind: str
    apply: Change
    truth: dict[str, float]
    ripple: Ripple | None = None
    fastest: float = 0.0


SATURATING, WEAKER, GATE_RINGING, GATE_DRIVE = "both chokes saturating", "one choke weaker", "gate ringing", "gate drive"
LOAD, SUPPLY, CAPACITOR = "heavy load", "supply ripple or foldback", "tank capacitor"
TURN, CONNECTION, PROBE, NOTHING = "shorted turn", "loose connection", "probe or scope", "nothing wrong"


def between(generator: Random, low: float, high: float) -> float:
    """Even on a logarithmic scale."""
    return float(low * (high / low) ** generator.random())


def spread(generator: Random, share: float) -> float:
    """A factor of the normal law with two standard deviations at `share`, cut there."""
    return 1 + share * float(np.clip(generator.normal(0, 0.5), -1, 1))


def mean_choke_current(heater: Heater) -> float:
    """Mean current of one choke of the ideal stage [A], pi^2 V r C/(4 L): power in, shared by two."""
    return (
        math.pi**2
        * heater.supply.voltage
        * heater.capacitors.capacitance
        * heater.loaded_resistance
        / (4 * heater.loaded_inductance)
    )


def half_current(choke: Choke) -> float:
    """Current at which a powder choke has half its inductance [A]: (100 b)^(-1/c) oersted over the path; knee of a gapped one."""
    if choke.core is None:
        assert isinstance(choke.curve, GappedCurve), "a choke that is known to saturate is needed"
        return choke.curve.saturation_flux / choke.curve.inductance_zero
    material = choke.core.material
    field = material.bias.half_field
    return field * choke.core.ring.path_length / choke.core.winding.turns


def scaled_choke(choke: Choke, strength: float = 1.0, reach: float = 1.0, turns: float = 1.0, copper: float = 1.0) -> Choke:
    """Another ring or fewer turns. strength: factor on the inductance of the same turns; reach: on the current at which it
    gives way; turns: on their number (inductance goes with its square, current with its inverse); copper: on resistance.

    L ~ A/l and i ~ l: a path `reach` times longer and an area `strength*reach` times larger do both.
    """
    if choke.core is None:
        assert isinstance(choke.curve, GappedCurve)
        zero, flux = strength * turns**2, strength * reach * turns
        curve = replace(
            choke.curve,
            inductance_zero=choke.curve.inductance_zero * zero,
            saturation_flux=choke.curve.saturation_flux * flux,
            knee=choke.curve.knee * flux,
        )
        return replace(choke, curve=curve, resistance=choke.resistance * copper * turns)
    core = choke.core
    ring = replace(core.ring, path_length=core.ring.path_length * reach, area=core.ring.area * strength * reach)
    wound = replace(core, ring=ring, winding=replace(core.winding, turns=round(core.winding.turns * turns)))
    return replace(choke, core=wound, curve=wound_curve(wound), resistance=choke.resistance * copper * turns)


def choke_truth(heater: Heater) -> dict[str, float]:
    """Zero-current inductance [H], current of half inductance [A] and resistance [ohm] of both chokes."""
    return {
        f"choke.{choke.side}.{name}": value
        for choke in heater.chokes
        for name, value in (
            ("inductance", choke.curve.inductance_zero),
            ("half_current", half_current(choke)),
            ("resistance", choke.resistance),
        )
    }


def with_chokes(heater: Heater, **factors: dict[str, float]) -> Heater:
    """The heater with scaled chokes; by side."""
    return replace(heater, chokes=tuple(scaled_choke(choke, **factors.get(choke.side, {})) for choke in heater.chokes))


def part_loaded(heater: Heater, share: float) -> Heater:
    """The heater with `share` of what its workpiece does to the coil; idle as it was."""
    work, coil = heater.workpiece, heater.coil
    if work is None:
        return heater
    changed = Workpiece(
        coil.inductance + share * (work.inductance - coil.inductance),
        coil.resistance + share * (work.resistance - coil.resistance),
        work.basis,
    )
    return replace(heater, workpiece=changed)


def tolerances(generator: Random) -> Callable[[Heater], Heater]:
    """Ordinary spread of sound parts, as a change: two standard deviations, cut there. Capacitors 4 %, coil 2 %, powder rings
    6 % in common and 2 % between two of a batch, workpiece 15 %, copper 10 %, thresholds 0.15 V and 0.1 V between banks,
    supply 0.5 % (it is measured), gate supply 3 %, gate resistors 5 %."""
    f = {
        name: spread(generator, share)
        for name, share in (
            ("capacitor", 0.04),
            ("coil", 0.02),
            ("coil_r", 0.1),
            ("ring", 0.06),
            ("left", 0.02),
            ("right", 0.02),
            ("reach", 0.05),
            ("left_r", 0.1),
            ("right_r", 0.1),
            ("work", 0.15),
            ("supply", 0.005),
            ("gate", 0.03),
            ("gate_r", 0.05),
        )
    }
    threshold, unequal = 0.15 * (spread(generator, 1) - 1), 0.1 * (spread(generator, 1) - 1)

    def apply(heater: Heater) -> Heater:
        h = part_loaded(heater, f["work"])
        coil = replace(h.coil, inductance=h.coil.inductance * f["coil"], resistance=h.coil.resistance * f["coil_r"])
        work = h.workpiece and replace(
            h.workpiece,
            inductance=h.workpiece.inductance * f["coil"],
            resistance=h.workpiece.resistance + coil.resistance - h.coil.resistance,
        )
        gate = replace(h.gate, supply_voltage=h.gate.supply_voltage * f["gate"], resistor=h.gate.resistor * f["gate_r"])
        switch = replace(h.switch, threshold=h.switch.threshold + threshold, threshold_spread=h.switch.threshold_spread + unequal)
        chokes = {
            side: {"strength": f["ring"] * f[side], "reach": f["reach"], "copper": f[f"{side}_r"]} for side in ("left", "right")
        }
        return with_chokes(
            replace(
                h,
                coil=coil,
                workpiece=work,
                gate=gate,
                switch=switch,
                supply=replace(h.supply, voltage=h.supply.voltage * f["supply"]),
                capacitors=replace(h.capacitors, unit=h.capacitors.unit * f["capacitor"]),
            ),
            **chokes,
        )

    return apply


def _side(generator: Random) -> str:
    return str(generator.choice(["left", "right"]))


def saturating(generator: Random, heater: Heater) -> Draw:
    """Both: 12 to 40 % of the inductance left at the mean current (86 % on the bench heater), 0.5 to 1.2 of it at zero."""
    left = between(generator, 0.12, 0.4)
    exponent = heater.chokes[0].core.material.bias.exponent if heater.chokes[0].core else 4.0
    wanted = mean_choke_current(heater) / (1 / left - 1) ** (1 / exponent)
    reach, strength = wanted / half_current(heater.chokes[0]), between(generator, 0.5, 1.2)
    factors = {"strength": strength, "reach": reach}
    return Draw(
        "core too small",
        lambda h: Faulty(with_chokes(h, left=factors, right=factors)),
        {"inductance_left_at_mean": left, "strength": strength, "reach": reach},
    )


def weaker(generator: Random, heater: Heater) -> Draw:
    """One: half to 0.72 of the turns, or another ring with 0.3 to 0.6 of the inductance, or one that holds 0.25 to 0.5 of the
    current with 0.4 to 0.8 of the inductance."""
    side, kind = _side(generator), str(generator.choice(["fewer turns", "other ring", "smaller ring"]))
    factors = {
        "fewer turns": {"turns": between(generator, 0.5, 0.72)},
        "other ring": {"strength": between(generator, 0.3, 0.6)},
        "smaller ring": {"strength": between(generator, 0.4, 0.8), "reach": between(generator, 0.25, 0.5)},
    }[kind]
    return Draw(kind, lambda h: Faulty(with_chokes(h, **{side: factors})), {"right": float(side == "right"), **factors})


def gate_ringing(generator: Random, heater: Heater) -> Draw:
    """Gate loops of 80 to 400 nH a device with too little resistance: Q = sqrt(L/Ciss)/R of 1.5 to 5."""
    inductance, quality = between(generator, 80e-9, 400e-9), between(generator, 1.5, 5.0)
    total = math.sqrt(inductance / heater.switch.input_capacitance) / quality
    inner = min(heater.switch.gate_resistance, 0.8 * total)

    def apply(h: Heater) -> Faulty:
        return Faulty(
            replace(
                h,
                gate=replace(h.gate, inductance=inductance, resistor=total - inner),
                switch=replace(h.switch, gate_resistance=inner),
            )
        )

    return Draw(
        "long gate leads",
        apply,
        {"gate.inductance": inductance, "gate.quality": quality, "gate.resistor": total - inner},
        fastest=1 / (2 * math.pi * math.sqrt(inductance * heater.switch.input_capacitance)),
    )


def gate_drive(generator: Random, heater: Heater) -> Draw:
    """Late: pull-up times input capacitance of 0.22 to 0.45 of a half period (0.1 is sound: the charge of the gate-drain
    capacitance comes on top). Weak: a gate supply of 1.7 to 2.8 V above the threshold, or a threshold 2 to 3.2 V under a
    supply of 9 V."""
    kind = str(generator.choice(["pull-up too large", "gate supply too low", "threshold too high"]))
    switch, gate = heater.switch, heater.gate
    if kind == "pull-up too large":
        share = between(generator, 0.22, 0.45)
        value = share / (2 * heater.frequency * switch.count * switch.input_capacitance)
        return Draw(kind, lambda h: Faulty(replace(h, gate=replace(h.gate, pull_up=value))), {"gate.pull_up": value})
    over = between(generator, 1.7, 2.8) if kind == "gate supply too low" else between(generator, 2.0, 3.2)
    if kind == "gate supply too low":
        value = switch.threshold + over
        return Draw(kind, lambda h: Faulty(replace(h, gate=replace(h.gate, supply_voltage=value))), {"gate.supply_voltage": value})
    low = min(gate.supply_voltage, 9.0)
    return Draw(
        kind,
        lambda h: Faulty(replace(h, gate=replace(h.gate, supply_voltage=low), switch=replace(h.switch, threshold=low - over))),
        {"switch.threshold": low - over, "gate.supply_voltage": low},
    )


def heavy_load(generator: Random, heater: Heater) -> Draw:
    """1.8 to 3 times what the workpiece does: Q of 2.5 to 4.4 on the bench heater instead of 8."""
    share = between(generator, 1.8, 3.0)
    return Draw("larger workpiece", lambda h: Faulty(part_loaded(h, share)), {"workpiece.share": share})


def supply(generator: Random, heater: Heater) -> Draw:
    """Ripple of the mains, 100 to 300 Hz and 8 to 30 % of the voltage peak to peak; of a switching supply, 3 to 15 kHz and 4 to
    12 %; foldback at 45 to 85 % of the current the heater would draw, giving way by 1 to 4 ohm."""
    kind = str(generator.choice(["mains ripple", "switching ripple", "foldback"]))
    phase = float(generator.uniform(0, 2 * math.pi))
    if kind == "foldback":
        limit = between(generator, 0.45, 0.85) * 2 * mean_choke_current(heater)
        slope = between(generator, 1.0, 4.0)
        return Draw(kind, lambda h: Faulty(h, foldback=Foldback(limit, slope)), {"supply.limit": limit, "supply.slope": slope})
    mains = kind == "mains ripple"
    size = heater.supply.voltage * (between(generator, 0.08, 0.3) if mains else between(generator, 0.04, 0.12))
    frequency = float(generator.choice([100.0, 120.0, 300.0])) if mains else between(generator, 3e3, 15e3)
    ripple = Ripple(size, frequency, phase)
    return Draw(kind, Faulty, {"supply.ripple": size, "supply.ripple_frequency": frequency}, ripple)


def capacitor(generator: Random, heater: Heater) -> Draw:
    """One to three of the bank lost, all faded by 15 to 40 %, one of them lost for 60 to 95 % (the bank unequal: at its
    terminals nothing but capacitance), or 12 to 45 mohm of series resistance where the bank has a fraction of one."""
    kind = str(generator.choice(["some lost", "all faded", "one unequal", "series resistance"]))
    count = heater.capacitors.count
    if kind == "series resistance":
        added = between(generator, 0.012, 0.045)
        return Draw(
            kind,
            lambda h: Faulty(replace(h, capacitors=replace(h.capacitors, resistance=h.capacitors.resistance + added))),
            {"capacitors.resistance_added": added},
        )
    lost = int(generator.integers(1, max(2, count // 2 + 1)))
    left = {
        "some lost": 1 - lost / count,
        "all faded": 1 - between(generator, 0.15, 0.4),
        "one unequal": 1 - between(generator, 0.6, 0.95) / count,
    }[kind]
    return Draw(
        kind,
        lambda h: Faulty(replace(h, capacitors=replace(h.capacitors, unit=h.capacitors.unit * left))),
        {"capacitors.share_left": left},
    )


def shorted_turn(generator: Random, heater: Heater) -> Draw:
    """Of a choke: 1 to 20 mohm round the turn, 20 to 60 nH of leakage, times turns squared. Of the coil: a turn that can cancel
    20 to 45 % of the inductance, its reactance 2.5 to 10 times its resistance."""
    kind = str(generator.choice(["in a choke", "in the coil"]))
    if kind == "in the coil":
        turn = CoilTurn(float(generator.uniform(0.2, 0.45)), between(generator, 2.5, 10.0))
        return Draw(kind, lambda h: Faulty(h, coil_turn=turn), {"coil.turn_share": turn.share, "coil.turn_ratio": turn.ratio})
    side = _side(generator)
    core = heater.chokes[0].core
    square = (core.winding.turns if core else 20) ** 2
    own = Turn(square * between(generator, 1e-3, 20e-3), square * between(generator, 20e-9, 60e-9))
    return Draw(
        kind,
        lambda h: Faulty(h, turns={side: own}),
        {"right": float(side == "right"), "turn.resistance": own.resistance, "turn.inductance": own.inductance},
    )


def connection(generator: Random, heater: Heater) -> Draw:
    """12 to 60 mohm in the lead between coil and bank (some tenths of a milliohm are sound), or 0.15 to 0.8 ohm in the feed
    of one choke."""
    kind = str(generator.choice(["tank lead", "choke feed"]))
    if kind == "tank lead":
        added = between(generator, 0.012, 0.06)
        return Draw(
            kind,
            lambda h: Faulty(replace(h, coil=replace(h.coil, lead_resistance=h.coil.lead_resistance + added))),
            {"coil.lead_resistance_added": added},
        )
    side, added = _side(generator), between(generator, 0.15, 0.8)

    def apply(h: Heater) -> Faulty:
        chokes = tuple(replace(c, resistance=c.resistance + added) if c.side == side else c for c in h.chokes)
        return Faulty(replace(h, chokes=chokes))

    return Draw(kind, apply, {"right": float(side == "right"), "choke.resistance_added": added})


def nothing(generator: Random, heater: Heater) -> Draw:
    """Sound parts."""
    return Draw("sound", Faulty, {})


DRAWS: dict[str, Callable[[Random, Heater], Draw]] = {
    SATURATING: saturating,
    WEAKER: weaker,
    GATE_RINGING: gate_ringing,
    GATE_DRIVE: gate_drive,
    LOAD: heavy_load,
    SUPPLY: supply,
    CAPACITOR: capacitor,
    TURN: shorted_turn,
    CONNECTION: connection,
    PROBE: nothing,
    NOTHING: nothing,
}
CAUSES = tuple(DRAWS)
