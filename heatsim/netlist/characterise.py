# SPDX-License-Identifier: GPL-3.0-or-later
"""A choke's netlist model alone on the bench: flux against current, inductance and B-H points, as ngspice sees them.

The winding, its copper and capacitance taken away, stands on a square voltage, so that its flux runs up and down
evenly: from nothing to the peak (the virgin curve of a hysteretic core), then full cycles. This room writes decks and reads
waveforms; who runs them is passed in, such as `lambda deck: run_deck(deck).waveforms`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from heatsim.errors import InputError
from heatsim.netlist.chokes import FLUX_UNIT, choke_model
from heatsim.netlist.deck import Deck, SettleRule, Transient
from heatsim.netlist.library import call
from heatsim.parts.curves import Curve
from heatsim.waves import Array, Signal, Waveforms

Runner = Callable[[Deck], Waveforms | None]
"""Takes a deck to its end; None when it could not."""

POINTS = 400
"""Even steps of flux from tip to tip at which current and inductance are read."""

SAMPLES = 4
"""Time steps of the simulation in one of these."""

EDGE = 1e-5
"""Rise and fall of the square voltage as a share of the period."""


@dataclass(frozen=True)
class Characteristic:
    """What a model does from tip to tip, on even steps of flux; shapes (n,) or, for inductances, (n-1,).

    flux [Wb] and current [A] on the way up; falling: current [A] on the way down at the same fluxes;
    virgin_flux [Wb], virgin_current [A]: the first rise from the demagnetised state; energy: lost in a cycle [J],
    the integral of i d(flux) round it.
    """

    flux: Array
    current: Array
    falling: Array
    virgin_flux: Array
    virgin_current: Array
    energy: float

    @property
    def inductance_current(self) -> Array:
        """Currents [A] at which `inductance` holds, rising."""
        return np.asarray(0.5 * (self.current[1:] + self.current[:-1]))

    @property
    def inductance(self) -> Array:
        """Differential inductance [H] on the way up."""
        return np.asarray(np.diff(self.flux) / np.diff(self.current))

    @property
    def monotone(self) -> bool:
        """Whether the current rises with the flux on the way up, on the way down and on the virgin curve."""
        return all(bool(np.all(np.diff(x) > 0)) for x in (self.current, self.falling, self.virgin_current))


def bench_deck(curve: Curve, current: float, frequency: float = 10e3, cycles: int = 2) -> Deck:
    """The winding of a curve alone, driven to flux linkages that belong to +-current [A].

    frequency [Hz] matters only to models that know time; cycles: full ones after the first quarter. A hysteretic core
    ends up a little beside the current asked for, which is that of its middle line.
    """
    if not (np.isfinite(current) and current > 0 and cycles >= 1):
        raise InputError.single("bench_deck", "current and cycles must be above zero", f"{current}, {cycles}")
    name, text, values = choke_model(curve, "bench")
    peak, period = float(curve.flux(current)), 1 / frequency
    volts, edge = 4 * peak * frequency, EDGE * period
    bare = {**values, "rcu": 1e-9, "rcore": 1e12, "cw": 1e-18, "fref": FLUX_UNIT}
    drive = (
        f"vdrive in 0 pulse({volts:.9g} {-volts:.9g} {period / 4:.9g} {edge:.9g} {edge:.9g} {period / 2 - edge:.9g} {period:.9g})"
    )
    stop, step = (cycles + 0.25) * period, period / (2 * POINTS * SAMPLES)
    rule = SettleRule("choke.flux", ("choke.current",), 1e-2, 2, stop, period, stop, 0.0)
    return Deck(
        title=f"choke alone, up to {current:.4g} A",
        circuit="\n".join([text, "\n* square voltage: the flux runs up and down evenly", drive, call("xch", "in 0", name, bare)]),
        transient=Transient(stop, step, step),
        settle=rule,
        options={"method": "trap", "reltol": "1e-5"},
        signals=(
            Signal("choke.flux", "Wb", ((FLUX_UNIT, "v(xch.phi)"),)),
            Signal("choke.current", "A", ((1.0, "i(v.xch.vs)"),)),
            Signal("choke.voltage", "V", ((1.0, "v(in)"),)),
        ),
    )


def read_bench(waves: Waveforms, frequency: float = 10e3, cycles: int = 2) -> Characteristic:
    """What a run of `bench_deck` shows: its first quarter and its last cycle."""
    quarter = 0.25 / frequency
    end = (4 * cycles + 1) * quarter
    rise = waves.between(end - 2 * quarter, min(end, float(waves.time[-1])))
    fall = waves.between(end - 4 * quarter, end - 2 * quarter)
    virgin = waves.between(float(waves.time[0]), quarter)
    flux = np.linspace(
        max(rise["choke.flux"].min(), fall["choke.flux"].min()), min(rise["choke.flux"].max(), fall["choke.flux"].max()), POINTS + 1
    )
    first = np.linspace(0.0, virgin["choke.flux"].max(), POINTS // 2 + 1)
    energy = sum(float(np.trapezoid(part["choke.current"], part["choke.flux"])) for part in (fall, rise))
    return Characteristic(flux, _at(flux, rise), _at(flux, fall), first, _at(first, virgin), energy)


def _at(flux: Array, part: Waveforms) -> Array:
    """Current [A] at fluxes [Wb] along a stretch on which the flux only rises or only falls."""
    order = np.argsort(part["choke.flux"], kind="stable")
    return np.asarray(np.interp(flux, part["choke.flux"][order], part["choke.current"][order]))


def characterise(curve: Curve, current: float, run: Runner, frequency: float = 10e3, cycles: int = 2) -> Characteristic:
    """Run a curve's netlist model alone up to +-current [A] and read it; see `bench_deck`.

    Raises InputError when the run does not come to its end.
    """
    deck = bench_deck(curve, current, frequency, cycles)
    waves = run(deck)
    if waves is None or waves.time[-1] < deck.transient.stop * (1 - 1e-6):
        raise InputError.single("characterise", "the model could not be simulated up to this current", f"{current:g} A")
    return read_bench(waves, frequency, cycles)
