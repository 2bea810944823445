# SPDX-License-Identifier: GPL-3.0-or-later
"""What may be wrong: the causes that are asked about, and others that are not, each as a change of a sound heater.

Ranges are common practice, no source. A draw names its kind and what it set; `ripple` and `toggles` are for the record, which
passes slowly from one settled state to another.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from tests.support.foreign import laws
from tests.support.foreign.nominal import Nominal
from tests.support.foreign.parts import Heater, Pair, even

Random = np.random.Generator

NOTHING, PROBE = "nothing wrong", "probe or scope"
SATURATING, WEAKER = "both chokes saturating", "one choke weaker than the other"
GATE_RINGING, GATE_DRIVE = "gate ringing", "late or weak gate drive"
LOAD, SUPPLY = "heavy load", "supply ripple or foldback"
CAPACITOR, TURN, CONNECTION = "tank capacitor failing or bank unequal", "shorted turn in choke or coil", "loose connection"
OPEN, THRESHOLDS, CLAMP, LEAKY = "one device of a bank open", "unequal thresholds", "missing or leaky clamp", "leaky drain"
INTERMITTENT, STEEL, TAP = "intermittent contact", "saturating workpiece", "wrong coil tap"
RESONANCE, BENT = "second resonance of leads", "voltage-dependent capacitors"
COUPLED, SUPPRESSOR, RESERVOIR = "coupled feed chokes", "drain suppressor conducting", "reservoir dried out"
SNUBBER, SLOW_DIODES, BARS = "capacitance at one drain", "slow gate diodes", "long bars to the tank"
WEAK_DEVICES = "devices of a weaker type"


@dataclass(frozen=True)
class Draw:
    """states: the heater, or several between which the record goes; kind: of the cause; truth: values set [SI]; ripple:
    (frequency [Hz], phase [rad]), with the lowest, middle and highest voltage as states; toggles: mean number of changes in a
    record between two states; fastest: frequency that the record should show [Hz]."""

    kind: str
    states: tuple[Heater, ...]
    truth: dict[str, float]
    ripple: tuple[float, float] | None = None
    toggles: float = 0.0
    fastest: float = 0.0


def _one(pair: Pair, side: int, value: float) -> Pair:
    return (value, pair[1]) if side == 0 else (pair[0], value)


def _plain(kind: str, heater: Heater, **truth: float) -> Draw:
    return Draw(kind, (heater,), truth)


def nothing(heater: Heater, nominal: Nominal, g: Random) -> Draw:
    """Sound parts; so are they where the probe is wrong."""
    return _plain("sound", heater)


def saturating(heater: Heater, nominal: Nominal, g: Random) -> Draw:
    """12 to 40 % of the inductance left at the mean current, 0.5 to 1.2 of it at zero."""
    left, strength = even(g, 0.12, 0.4), even(g, 0.5, 1.2)
    zero = tuple(strength * value for value in heater.zero)
    at = laws.scale_of(heater.choke, left, nominal.choke_current, heater.power[0], heater.air[0] / zero[0])
    return _plain("core too small", replace(heater, zero=zero, at=(at, at)), left_at_mean=left, strength=strength)


def weaker(heater: Heater, nominal: Nominal, g: Random) -> Draw:
    """Half to 0.72 of the turns, or 0.3 to 0.6 of the inductance, or 0.4 to 0.8 of it with 0.25 to 0.5 of the current."""
    side, kind = int(g.integers(2)), str(g.choice(["fewer turns", "other ring", "smaller ring"]))
    turns = even(g, 0.5, 0.72)
    strength, reach = {
        "fewer turns": (turns**2, 1 / turns),
        "other ring": (even(g, 0.3, 0.6), 1.0),
        "smaller ring": (even(g, 0.4, 0.8), even(g, 0.25, 0.5)),
    }[kind]
    zero = _one(heater.zero, side, heater.zero[side] * strength)
    at = _one(heater.at, side, heater.at[side] * reach)
    return _plain(kind, replace(heater, zero=zero, at=at), right=float(side), strength=strength, reach=reach)


def gate_ringing(heater: Heater, nominal: Nominal, g: Random) -> Draw:
    """Gate loops of 80 to 400 nH a device, Q of 1.5 to 5 with the input capacitance."""
    henry, quality = even(g, 80e-9, 400e-9), even(g, 1.5, 5.0)
    ohms = math.sqrt(henry / nominal.input_capacitance) / quality
    inner = min(heater.gate_inner, 0.8 * ohms)
    fastest = 1 / (2 * math.pi * math.sqrt(henry * nominal.input_capacitance))
    changed = replace(heater, gate_inductance=henry, gate_inner=inner, resistor=ohms - inner)
    return Draw("long gate leads", (changed,), {"inductance": henry, "quality": quality}, fastest=fastest)


def gate_drive(heater: Heater, nominal: Nominal, g: Random) -> Draw:
    """Pull-up times input capacitance 0.22 to 0.45 of a half period, or a gate supply 1.7 to 2.8 V above the threshold."""
    kind = str(g.choice(["pull-up too large", "gate supply too low"]))
    if kind == "pull-up too large":
        value = even(g, 0.22, 0.45) / (2 * nominal.frequency * nominal.count * nominal.input_capacitance)
        return _plain(kind, replace(heater, pull_up=(value, value)), pull_up=value)
    value = sum(heater.threshold) / 2 + even(g, 1.7, 2.8)
    return _plain(kind, replace(heater, gate_supply=value), gate_supply=value)


def _seen(ohms: float, henry: float, omega: float) -> float:
    """Inductance in series that a resistance beside an inductance shows at omega [rad/s], in H."""
    return henry / (1 + (omega * henry / ohms) ** 2)


def heavy_load(heater: Heater, nominal: Nominal, g: Random) -> Draw:
    """1.8 to 3 times what the workpiece does to the coil, in resistance and inductance as a meter would see it at 100 kHz."""
    share = even(g, 1.8, 3.0)
    omega = 2 * math.pi * 100e3
    seen = sum(_seen(ohms, henry, omega) for ohms, henry in zip(heater.cells_ohms, heater.cells_inductance, strict=True))
    own = heater.coil + seen + (share - 1) * (nominal.work_inductance - nominal.coil_inductance)
    ohms = tuple(share * value for value in heater.cells_ohms)
    henry = tuple(share * value for value in heater.cells_inductance)
    return _plain(
        "larger workpiece", replace(heater, coil=own - share * seen, cells_ohms=ohms, cells_inductance=henry), share=share
    )


def supply(heater: Heater, nominal: Nominal, g: Random) -> Draw:
    """A rectifier's ripple of 100, 120 or 300 Hz and 8 to 30 % peak to peak, or foldback from 45 to 85 % of the current on, by 1 to
    4 ohm."""
    if g.random() < 0.5:
        fold, ohms = even(g, 0.45, 0.85) * 2 * nominal.choke_current, even(g, 1.0, 4.0)
        return _plain("foldback", replace(heater, fold=fold, fold_ohms=ohms), fold=fold, fold_ohms=ohms)
    size, frequency = heater.supply * even(g, 0.08, 0.3), float(g.choice([100.0, 120.0, 300.0]))
    states = tuple(replace(heater, supply=heater.supply + k * size / 2) for k in (-1, 0, 1))
    truth = {"ripple": size, "frequency": frequency}
    return Draw("rectifier ripple", states, truth, ripple=(frequency, float(g.uniform(0, 2 * math.pi))))


def capacitor(heater: Heater, nominal: Nominal, g: Random) -> Draw:
    """One to half of the capacitors lost, all faded by 15 to 40 %, or 12 to 45 mohm in series with the bank."""
    kind = str(g.choice(["some lost", "all faded", "series resistance"]))
    if kind == "series resistance":
        added = even(g, 0.012, 0.045)
        return _plain(kind, replace(heater, bank_ohms=heater.bank_ohms + added), bank_added=added)
    lost = int(g.integers(1, max(2, nominal.bank_count // 2 + 1))) / nominal.bank_count
    left = 1 - (lost if kind == "some lost" else even(g, 0.15, 0.4))
    return _plain(kind, replace(heater, bank=heater.bank * left), left=left)


def shorted_turn(heater: Heater, nominal: Nominal, g: Random) -> Draw:
    """Of a choke: 1 to 20 mohm and 20 to 60 nH round the turn, times turns squared. Of the coil: one that can cancel 20 to 45 % of
    the inductance, its reactance 2.5 to 10 times its resistance."""
    if g.random() < 0.5:
        side, square = int(g.integers(2)), nominal.turns**2
        ohms, henry = square * even(g, 1e-3, 20e-3), square * even(g, 20e-9, 60e-9)
        changed = replace(
            heater, turn_ohms=_one(heater.turn_ohms, side, ohms), turn_inductance=_one(heater.turn_inductance, side, henry)
        )
        return _plain("in a choke", changed, right=float(side), ohms=ohms, inductance=henry)
    share, ratio = float(g.uniform(0.2, 0.45)), even(g, 2.5, 10.0)
    henry = share * heater.coil
    ohms = 2 * math.pi * nominal.frequency * henry / ratio
    changed = replace(
        heater,
        coil=heater.coil - henry,
        cells_ohms=(*heater.cells_ohms[:3], ohms),
        cells_inductance=(*heater.cells_inductance[:3], henry),
    )
    return _plain("in the coil", changed, share=share, ratio=ratio)


def connection(heater: Heater, nominal: Nominal, g: Random) -> Draw:
    """12 to 60 mohm between coil and bank, or 0.15 to 0.8 ohm in the feed of one choke."""
    if g.random() < 0.5:
        added = even(g, 0.012, 0.06)
        return _plain("tank lead", replace(heater, lead_ohms=heater.lead_ohms + added), lead_added=added)
    side, added = int(g.integers(2)), even(g, 0.15, 0.8)
    changed = replace(heater, copper=_one(heater.copper, side, heater.copper[side] + added))
    return _plain("choke feed", changed, **{("left_added", "right_added")[side]: added})


def one_open(heater: Heater, nominal: Nominal, g: Random) -> Draw:
    """One of a bank's MOSFETs carries nothing and its gate takes nothing."""
    side = int(g.integers(2))
    return _plain("bond or trace open", replace(heater, count=_one(heater.count, side, heater.count[side] - 1)), right=float(side))


def thresholds(heater: Heater, nominal: Nominal, g: Random) -> Draw:
    """Banks 0.8 to 1.6 V apart: two types mixed."""
    half = even(g, 0.4, 0.8) * float(g.choice([-1.0, 1.0]))
    pair = (heater.threshold[0] + half, heater.threshold[1] - half)
    return _plain("types mixed", replace(heater, threshold=pair), split=2 * half)


def no_clamp(heater: Heater, nominal: Nominal, g: Random) -> Draw:
    """No clamp on either side, and a gate supply of 19 to 26 V."""
    value = even(g, 19.0, 26.0)
    return _plain("supply too high for none", replace(heater, clamp=(0.0, 0.0), gate_supply=value), gate_supply=value)


def leaky(heater: Heater, nominal: Nominal, g: Random) -> Draw:
    """20 to 150 ohm from one drain to ground."""
    side, ohms = int(g.integers(2)), even(g, 20.0, 150.0)
    return _plain("damaged chip", replace(heater, leak=_one(heater.leak, side, 1 / ohms)), right=float(side), ohms=ohms)


def intermittent(heater: Heater, nominal: Nominal, g: Random) -> Draw:
    """A lead of the tank that now has 20 to 80 mohm more, now not, or an oxide film that drops 0.5 to 2 V."""
    if g.random() < 0.5:
        drop = even(g, 0.5, 2.0)
        return _plain("film", replace(heater, contact=drop, contact_current=even(g, 3.0, 20.0)), drop=drop)
    added = even(g, 0.02, 0.08)
    states = (heater, replace(heater, lead_ohms=heater.lead_ohms + added))
    return Draw("now and then", states, {"added": added}, toggles=float(g.uniform(2, 12)))


def steel(heater: Heater, nominal: Nominal, g: Random) -> Draw:
    """A workpiece whose flux gives way from 20 to 60 A on, and is 1.5 to 2.5 times as large below: that of the cell which adds most
    to the coil's inductance, since what lies deeper is screened and never comes near its knee."""
    knee, more = even(g, 20.0, 60.0), even(g, 1.5, 2.5)
    omega, cells = 2 * math.pi * nominal.frequency, (0, 1, 2)
    first = max(cells, key=lambda k: _seen(heater.cells_ohms[k], heater.cells_inductance[k], omega))
    order = (first, *(k for k in cells if k != first), 3)
    ohms, henry = (tuple(values[k] for k in order) for values in (heater.cells_ohms, heater.cells_inductance))
    changed = replace(heater, work_knee=knee, cells_ohms=ohms, cells_inductance=(more * henry[0], *henry[1:]))
    return _plain("steel at its knee", changed, knee=knee, more=more)


def tap(heater: Heater, nominal: Nominal, g: Random) -> Draw:
    """Six or seven of eight turns in use, or nine: all of the coil's impedance by the square of it."""
    square = (float(g.choice([6.0, 7.0, 9.0])) / 8) ** 2
    changed = replace(
        heater,
        coil=heater.coil * square,
        coil_ohms=heater.coil_ohms * square,
        cells_ohms=tuple(value * square for value in heater.cells_ohms),
        cells_inductance=tuple(value * square for value in heater.cells_inductance),
    )
    return _plain("turns", changed, square=square)


def resonance(heater: Heater, nominal: Nominal, g: Random) -> Draw:
    """Leads of 200 to 500 nH to a coil with 20 to 100 nF across it."""
    henry, farad = even(g, 200e-9, 500e-9), even(g, 20e-9, 100e-9)
    return _plain(
        "snubber at the coil", replace(heater, lead_inductance=henry, lead_capacitance=farad), inductance=henry, capacitance=farad
    )


def bent(heater: Heater, nominal: Nominal, g: Random) -> Draw:
    """A bank that loses 12 to 35 % of its capacitance at the tank's peak: ceramic of a high-permittivity class."""
    lost = even(g, 0.12, 0.35)
    return _plain("wrong dielectric", replace(heater, bank_bend=lost / (math.pi * nominal.supply_voltage) ** 2), lost=lost)


def coupled(heater: Heater, nominal: Nominal, g: Random) -> Draw:
    """Two chokes stacked so that 6 to 20 % of a choke's inductance couples to the other, either way round."""
    share = even(g, 0.06, 0.2) * float(g.choice([-1.0, 1.0]))
    return _plain("stacked rings", replace(heater, coupling=share), coupling=share)


def suppressor(heater: Heater, nominal: Nominal, g: Random) -> Draw:
    """One from a drain to ground that conducts 4 to 14 % below the tank's peak."""
    side, volts = int(g.integers(2)), math.pi * nominal.supply_voltage * (1 - even(g, 0.04, 0.14))
    return _plain(
        "voltage too low", replace(heater, suppressor=_one(heater.suppressor, side, volts)), right=float(side), volts=volts
    )


def reservoir(heater: Heater, nominal: Nominal, g: Random) -> Draw:
    """1 to 5 uF left, with 0.1 to 0.5 ohm, behind 3 to 10 uH of leads: the bus swings with the chokes."""
    farad, ohms, henry = even(g, 1e-6, 5e-6), even(g, 0.1, 0.5), even(g, 3e-6, 10e-6)
    changed = replace(heater, reservoir=farad, reservoir_ohms=ohms, supply_inductance=henry)
    return _plain("electrolytic gone", changed, reservoir=farad, ohms=ohms, inductance=henry)


def snubber(heater: Heater, nominal: Nominal, g: Random) -> Draw:
    """3 to 15 nF from one drain to the bus."""
    side, farad = int(g.integers(2)), even(g, 3e-9, 15e-9)
    return _plain("one side only", replace(heater, winding=_one(heater.winding, side, farad)), right=float(side), capacitance=farad)


def slow_diodes(heater: Heater, nominal: Nominal, g: Random) -> Draw:
    """Transit times of 0.4 to 1.5 us from gates to opposite drains: rectifier diodes in place of fast ones."""
    wait = even(g, 0.4e-6, 1.5e-6)
    return _plain("rectifier type", replace(heater, fast_transit=wait), transit=wait)


def bars(heater: Heater, nominal: Nominal, g: Random) -> Draw:
    """0.2 to 0.8 uH between a drain and the tank."""
    henry = even(g, 0.2e-6, 0.8e-6)
    return _plain("tank far away", replace(heater, bar_inductance=henry), inductance=henry)


def weak_devices(heater: Heater, nominal: Nominal, g: Random) -> Draw:
    """Three to eight times the resistance of the drift region on both sides."""
    factor = even(g, 3.0, 8.0)
    return _plain("higher resistance", replace(heater, body=factor * heater.body), factor=factor)


DRAWS: dict[str, Callable[[Heater, Nominal, Random], Draw]] = {
    NOTHING: nothing,
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
    OPEN: one_open,
    THRESHOLDS: thresholds,
    CLAMP: no_clamp,
    LEAKY: leaky,
    INTERMITTENT: intermittent,
    STEEL: steel,
    TAP: tap,
    RESONANCE: resonance,
    BENT: bent,
    COUPLED: coupled,
    SUPPRESSOR: suppressor,
    RESERVOIR: reservoir,
    SNUBBER: snubber,
    SLOW_DIODES: slow_diodes,
    BARS: bars,
    WEAK_DEVICES: weak_devices,
}
UNKNOWN = (SUPPRESSOR, RESERVOIR, SNUBBER, BARS, WEAK_DEVICES)
KNOWN = tuple(cause for cause in DRAWS if cause not in UNKNOWN)
"""Causes that are not asked about; those that are, nothing wrong first. Draws depend on their order in `DRAWS`."""
