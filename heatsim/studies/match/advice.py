# SPDX-License-Identifier: GPL-3.0-or-later
"""What speaks for a cause in a capture, the one measurement that would settle it, and what to change: in plain words.

Trade knowledge in the measurements and remedies is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from heatsim.studies.match import faults as kinds
from heatsim.studies.match.data import lines_of_view
from heatsim.studies.match.fit import RIPPLE, Fit, Site
from heatsim.studies.match.response_library import View
from heatsim.studies.match.result import NONE_OF_THESE

SETTLE = {
    kinds.SATURATING: (
        "Put a current probe round each choke lead: if the current runs up to a point at the end of its rise, the "
        "core gives way. Or capture again at half the supply voltage: if the distortion goes, it is saturation."
    ),
    kinds.WEAKER: (
        "Measure both chokes with an LCR meter, then swap them: if the capture turns upside down, it is the choke and not the side."
    ),
    kinds.GATE_RINGING: (
        "Scope each gate at the device, with the shortest earth spring: if it rings for more than two cycles after"
        " each edge, it is the gate loop."
    ),
    kinds.GATE_DRIVE: (
        "Scope each gate to its source: if it rises slowly or stops below some 8 V while its drain is down, it is "
        "the drive; measure the gate supply under load."
    ),
    kinds.LOAD: (
        "Take the workpiece out and capture again, idle: if the wave is clean then, it is the load; if not, a "
        "resistance in the tank."
    ),
    kinds.SUPPLY: (
        "Scope the supply at the chokes' common end: if it stands below the stated voltage or ripples, it is the supply."
    ),
    kinds.CAPACITOR: (
        "Take the bank off and measure each capacitor with an LCR meter, capacitance and loss; feel, after "
        "switching off and discharging, whether one is hotter than the others."
    ),
    kinds.TURN: (
        "Measure the suspect with an LCR meter at the working frequency and compare it with its twin or its "
        "calculation: a shorted turn lowers the inductance and raises the resistance severalfold."
    ),
    kinds.CONNECTION: (
        "Measure the voltage drop across each joint of the suspected path with a differential probe, or its "
        "resistance cold with four wires: more than a milliohm is too much. A warm joint after a short run tells "
        "the same."
    ),
    kinds.PROBE: (
        "Compare with another probe and channel on the same two points, and with the calibration output of the "
        "oscilloscope: what stays with the probe is the probe."
    ),
    kinds.NOTHING: (
        "Capture once more with the other case (idle or loaded) or at another supply voltage: a fault that hides "
        "in one rarely hides in both. Scope a choke's current, too: two chokes that keep a third of their inductance "
        "hardly change the coil's voltage."
    ),
    NONE_OF_THESE: "Scope each drain to ground and each gate, and capture idle and loaded; match all of them together.",
}
"""The one further measurement of each cause."""

REMEDY = {
    kinds.SATURATING: ("Stack more rings or use larger ones under both windings, or keep the supply lower."),
    kinds.WEAKER: ("Wind the weaker choke like the other: the same ring, the same turns."),
    kinds.GATE_RINGING: ("Shorten and twist the gate leads and raise the gate resistors until the ringing dies within a cycle."),
    kinds.GATE_DRIVE: (
        "Lower the pull-up or raise the gate supply (within the gates' rating) until the gates are up within a "
        "tenth of a half period."
    ),
    kinds.LOAD: ("Use a smaller workpiece, more turns on the coil or a wider coil, so that the tank keeps its Q."),
    kinds.SUPPLY: ("Use a supply that holds its voltage at this current, with a reservoir close to the chokes."),
    kinds.CAPACITOR: ("Replace what has failed; feed the bank from its middle so that all share the current."),
    kinds.TURN: (
        "Rewind or re-space the part with the shorted turn; look for chafed enamel and for metal across the coil's turns."
    ),
    kinds.CONNECTION: ("Clean and bolt or braze the joint."),
    kinds.PROBE: ("Compensate, replace or rearrange the probe and capture again; the heater itself is as its scenario says."),
    kinds.NOTHING: "",
    NONE_OF_THESE: "Check that the scenario is the heater that was captured.",
}
"""What to change."""

NONE_FEATURE = "No cause on the list makes these lines."


def feature(sites: Sequence[Site], one: Fit) -> str:
    """What in the first record speaks for a cause, with its numbers."""
    site = sites[0]
    observed, sound = (_numbers(site, None), _numbers(site, lines_of_view(View.unpacked(site.atlas.sound, site.atlas.signals))))
    f, a = observed["frequency"] / sound["frequency"] - 1, observed["peak"] / sound["peak"] - 1
    even = f"even harmonics {_percent(observed['even'])} of the fundamental (the scenario: {_percent(sound['even'])})"
    odd = f"odd harmonics {_percent(observed['odd'])} (the scenario: {_percent(sound['odd'])})"
    shift = f"the frequency is {_signed(f)} and the fundamental {_signed(a)} from the scenario's"
    drive = f"the third harmonic stands at {observed['third']:.0f} degrees to the crest (the scenario: {sound['third']:.0f})"
    cause = one.hypothesis.cause
    if cause == kinds.SUPPLY:
        if one.hypothesis.name == RIPPLE and site.seen.sway:
            sway = site.seen.sway
            swing = f"{_percent(2 * sway.amplitude)} peak to peak at {sway.frequency:.4g} Hz"
            return f"The amplitude sways by {swing}; the shape stays."
        return f"The amplitude is off and the shape is not: {shift}."
    words = {
        kinds.SATURATING: f"The halves are alike and peaked: {odd}, {even}.",
        kinds.WEAKER: f"The two halves differ: {even}; {odd}.",
        kinds.TURN: f"{even[0].upper()}{even[1:]}, {odd}; {shift}.",
        kinds.GATE_RINGING: f"The edges are early and rough: {drive}; {odd}.",
        kinds.GATE_DRIVE: f"The switches turn on late: {drive}; {shift}.",
        kinds.LOAD: f"The tank is damped: {odd}; {shift}, as a workpiece takes inductance away.",
        kinds.CAPACITOR: f"{shift[0].upper()}{shift[1:]}; {odd}.",
        kinds.CONNECTION: f"{odd[0].upper()}{odd[1:]} while {shift}; {even}.",
        kinds.PROBE: f"No part of the heater makes this: {shift}; mean {_percent(observed['mean'])} of the fundamental; {odd}.",
        kinds.NOTHING: f"All lines lie within the parts' tolerances: {shift}; {odd}; {even}.",
    }
    return words[cause]


def _numbers(site: Site, simulated: tuple[float, dict[str, np.ndarray], dict[str, np.ndarray]] | None) -> dict[str, float]:
    """Frequency, fundamental, even and odd content, mean and the third's angle of the reference signal."""
    lines = site.seen.lines.lines if simulated is None else simulated[1]
    frequency = site.seen.frequency if simulated is None else simulated[0]
    c = lines[site.seen.layout.reference]
    top = min(c.size, 13)
    size = np.abs(c) / abs(c[1])
    third = float(np.degrees(np.angle(c[3] * np.exp(-3j * np.angle(c[1])))))
    return {
        "frequency": frequency,
        "peak": float(abs(c[1])),
        "even": float(np.sqrt(np.sum(size[2:top:2] ** 2))),
        "odd": float(np.sqrt(np.sum(size[3:top:2] ** 2))),
        "mean": float(size[0]),
        "third": third,
    }


def _percent(share: float) -> str:
    return f"{100 * share:.2g} %"


def _signed(share: float) -> str:
    return f"{100 * share:+.1f} %" if abs(share) >= 5e-4 else f"{100 * share:+.2f} %"
