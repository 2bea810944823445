# SPDX-License-Identifier: GPL-3.0-or-later
"""Deck: a netlist that a person can read and ngspice can run, with what is needed to read its waveforms.

The text is complete in itself: no includes, no control block. `.tran`, `.option` and `.save` lines are kept apart
from the circuit so that the engine can lengthen a run or climb its ladder without touching the circuit.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from heatsim.waves import Ledger, Signal


@dataclass(frozen=True)
class Transient:
    """A cold start from t = 0 with every state at zero (`uic`).

    stop: end of the run [s]; max_step: largest time step [s]; print_step: nominal step for plain ngspice [s].
    """

    stop: float
    max_step: float
    print_step: float


FAST_RIPPLE = 40
"""Periods of the tank below which the period of a ripple counts as fast: met at ever other phases, it is told by its
extremes."""


@dataclass(frozen=True)
class SettleRule:
    """When a run counts as settled, judged from the waveform alone.

    section: signal whose rising zero crossings mark the periods (the tank voltage)
    watched: signals whose mean and peak-to-peak in each period must stop moving
    tolerance: largest drift between the means of two adjacent windows of `periods` periods each, relative to that
    signal's own peak-to-peak plus |mean| [1]
    first: earliest time to look [s]; again: how much longer to run between looks [s]; limit: longest run [s]
    quiet: peak of |section| below which it does not oscillate [V]
    latch_current: without oscillation, a watched current above this counts as latched [A]
    start: instant from which everything is switched on, all delays and rises over [s]
    ripple_period: of the supply's ripple, 0 without [s]
    swing_period: of the supply's own resonance, 0 where it has none [s]
    slow_time: slowest time constant of the supply [s]
    watch: how long must have been seen after the start for a judgement [s]
    difference: the currents of the two chokes, whose difference levels out slowly; none with one choke
    difference_time: its time constant [s]
    effort: time points per largest step beyond which a trial is given up, 0 for one that may take what it needs
    """

    section: str
    watched: tuple[str, ...]
    tolerance: float
    periods: int
    first: float
    again: float
    limit: float
    quiet: float
    latch_current: float = float("inf")
    start: float = 0.0
    ripple_period: float = 0.0
    swing_period: float = 0.0
    slow_time: float = 0.0
    watch: float = 0.0
    difference: tuple[str, ...] = ()
    difference_time: float = 0.0
    effort: float = 0.0


TRIAL_EFFORT = 10.0
"""Time points per largest step beyond which a trial is given up. Sound heaters take 2, with much ringing 3 to 8; those that took
more than 15 rang so that no limit of the gates held."""


@dataclass(frozen=True)
class State:
    """Where a circuit stands: voltage of each node [V] and current of each inductor [A], by the simulator's names."""

    nodes: Mapping[str, float]
    inductors: Mapping[str, float]


@dataclass(frozen=True)
class SlowState:
    """A state that takes many periods to forget where it came from, and a source that can perturb it.

    terms: its value from simulator vectors, as in `Signal`, less `offset`
    scale: expected size, in its unit
    source: zero but for a perturbation
    gain: change of the state for each second of one volt or ampere of that source
    probe: perturbation, as a share of the scale, that shows well above noise and below any bend of the circuit [1]
    rotates: whether it is the amplitude of the oscillation itself, whose phase goes on while it is perturbed
    """

    name: str
    terms: tuple[tuple[float, str], ...]
    scale: float
    source: str
    gain: float
    probe: float
    offset: float = 0.0
    rotates: bool = False


@dataclass(frozen=True)
class Deck:
    """A netlist with what belongs to it.

    title: one line, [A-Za-z0-9 ._,+-] only, never text of the user's making
    circuit: every line between title and analysis (parts, subcircuits, models, comments)
    transient: timing; settle: when to stop; options: `.option` name -> value
    signals: how to read the vectors; ledger: energy bookkeeping
    measures: `.meas` lines for a person running plain ngspice
    period: expected [s]
    slow: slow states, which a paused circuit can perturb
    slowest_mode: weights of the slow states in the sum that decays slowest, empty for none known
    every: save every vector
    start: state at t = 0 instead of all zero
    paused: the same circuit with sources that perturb its slow states; where it is given, a run from rest may end in the
        periodic state that it leads to (`heatsim.engine.steady`)
    """

    title: str
    circuit: str
    transient: Transient
    settle: SettleRule
    signals: tuple[Signal, ...]
    ledger: Ledger = field(default_factory=Ledger)
    measures: str = ""
    options: Mapping[str, str] = field(default_factory=dict)
    period: float = 0.0
    slow: tuple[SlowState, ...] = ()
    slowest_mode: tuple[float, ...] = ()
    every: bool = False
    start: State | None = None
    paused: Deck | None = None

    @property
    def vectors(self) -> tuple[str, ...]:
        """Simulator vectors to save, each once, in the order of first use."""
        return tuple(dict.fromkeys(vector for signal in self.signals for _, vector in signal.terms))

    @property
    def text(self) -> str:
        """The whole netlist, ready for `ngspice -b`."""
        option = " ".join(f"{name}={value}" for name, value in self.options.items())
        run = self.transient
        begin = "cold start, every state zero at t = 0" if self.start is None else "from a given state"
        chosen = ["all"] if self.every else self.vectors
        saves = [".save " + " ".join(chosen[k : k + 6]) for k in range(0, len(chosen), 6)]
        lines = [f"* {self.title}", self.circuit.rstrip("\n"), "", f"* analysis: {begin}"]
        nodes = self.start.nodes if self.start else {}
        lines += [f".ic v({node})={volts:.12g}" for node, volts in nodes.items()]
        lines += [f".option {option}"] if option else []
        lines += [f".tran {run.print_step:.6g} {run.stop:.9g} 0 {run.max_step:.6g} uic"]
        lines += saves + ([self.measures.rstrip("\n")] if self.measures else []) + [".end", ""]
        return "\n".join(lines)

    def lasting(self, stop: float) -> Deck:
        """The same deck with another end time [s]."""
        return replace(self, transient=replace(self.transient, stop=stop))

    def to_first_look(self) -> Deck:
        """The same deck, to end with the first look at it."""
        return replace(self, settle=replace(self.settle, limit=self.settle.first))

    def coarse(self) -> Deck:
        """The same deck with some 100 steps a period and four times the usual truncation error: for where it gets to, at a third
        of the effort. Its frequency is off by 0.1 to 0.3 %, its peaks by some tenths of a per cent, those of devices by up to 8 %.
        """
        step = self.transient.max_step
        return self.with_options(max_step=min(2 * step, max(step, self.period / 100)), trtol="30")

    def as_trial(self) -> Deck:
        """The same deck as one of many that are tried, worth no more than a sound heater's time points."""
        return replace(self, settle=replace(self.settle, effort=TRIAL_EFFORT))

    def with_options(self, max_step: float | None = None, **options: str) -> Deck:
        """The same deck with other simulator options and, if given, another largest step [s]."""
        run = self.transient if max_step is None else replace(self.transient, max_step=max_step)
        return replace(self, options={**self.options, **options}, transient=run)
