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


@dataclass(frozen=True)
class SettleRule:
    """When a run counts as settled, judged from the waveform alone.

    section: signal whose rising zero crossings mark the periods (the tank voltage);
    watched: signals whose per-period peak-to-peak and mean must stop moving (tank voltage, choke and supply currents);
    tolerance: largest relative drift allowed between the means of two adjacent windows of `periods` periods each,
    relative to that signal's own peak-to-peak plus |mean|;
    first: earliest time to look [s]; again: how much longer to run between looks [s]; limit: longest run [s].
    quiet: |section| peak below this [V] counts as no oscillation; latch_current: a watched current [A] above this
    without oscillation counts as latched.
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


@dataclass(frozen=True)
class Deck:
    """title: one line, [A-Za-z0-9 ._,+-] only, never text of the user's making;
    circuit: every line between title and analysis (parts, subcircuits, models, comments);
    measures: `.meas` lines for a person running plain ngspice; signals: how to read the vectors;
    options: `.option` name -> value; ledger: energy bookkeeping; settle: when to stop; transient: timing.
    """

    title: str
    circuit: str
    transient: Transient
    settle: SettleRule
    signals: tuple[Signal, ...]
    ledger: Ledger = field(default_factory=Ledger)
    measures: str = ""
    options: Mapping[str, str] = field(default_factory=dict)

    @property
    def vectors(self) -> tuple[str, ...]:
        """Simulator vectors to save, each once, in the order of first use."""
        return tuple(dict.fromkeys(vector for signal in self.signals for _, vector in signal.terms))

    @property
    def text(self) -> str:
        """The whole netlist, ready for `ngspice -b`."""
        option = " ".join(f"{name}={value}" for name, value in self.options.items())
        run = self.transient
        saves = [".save " + " ".join(self.vectors[k : k + 6]) for k in range(0, len(self.vectors), 6)]
        lines = [f"* {self.title}", self.circuit.rstrip("\n"), "", "* analysis: cold start, every state zero at t = 0"]
        lines += [f".option {option}"] if option else []
        lines += [f".tran {run.print_step:.6g} {run.stop:.9g} 0 {run.max_step:.6g} uic"]
        lines += saves + ([self.measures.rstrip("\n")] if self.measures else []) + [".end", ""]
        return "\n".join(lines)

    def lasting(self, stop: float) -> Deck:
        """The same deck with another end time [s]."""
        return replace(self, transient=replace(self.transient, stop=stop))

    def with_options(self, max_step: float | None = None, **options: str) -> Deck:
        """The same deck with other simulator options and, if given, another largest step [s]."""
        run = self.transient if max_step is None else replace(self.transient, max_step=max_step)
        return replace(self, options={**self.options, **options}, transient=run)
