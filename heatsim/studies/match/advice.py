# SPDX-License-Identifier: GPL-3.0-or-later
"""What speaks for a cause in a capture, the one measurement that would settle it, and what to change: in plain words.

Trade knowledge in the measurements and remedies is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from heatsim.measures.solving import Complex
from heatsim.studies.match import fault_model as faults
from heatsim.studies.match.fit import COMES_AND_GOES, RIPPLE, HypothesisFit
from heatsim.studies.match.hypothesis import Dataset
from heatsim.studies.match.response_library import lines_of
from heatsim.studies.match.result import NONE_OF_THESE

ADVICE = {
    faults.SATURATING: (
        "Put a current probe round each choke lead: if the current runs up to a point at the end of its rise, the core gives way. "
        "Or capture again at half the supply voltage: if the distortion goes, it is saturation.",
        "Stack more rings or use larger ones under both windings, or keep the supply lower.",
    ),
    faults.WEAKER: (
        "Measure both chokes with an LCR meter, then swap them: if the capture turns upside down, it is the choke and not the "
        "side.",
        "Wind the weaker choke like the other: the same ring, the same turns.",
    ),
    faults.GATE_RINGING: (
        "Scope each gate at the device, with the shortest earth spring: if it rings for more than two cycles after each edge, it "
        "is the gate loop.",
        "Shorten and twist the gate leads and raise the gate resistors until the ringing dies within a cycle.",
    ),
    faults.GATE_DRIVE: (
        "Scope each gate to its source: if it rises slowly or stops below some 8 V while its drain is down, it is the drive; "
        "measure the gate supply under load.",
        "Lower the pull-up or raise the gate supply (within the gates' rating) until the gates are up within a tenth of a half "
        "period.",
    ),
    faults.LOAD: (
        "Take the workpiece out and capture again, idle: if the wave is clean then, it is the load; if not, a resistance in the "
        "tank.",
        "Use a smaller workpiece, more turns on the coil or a wider coil, so that the tank keeps its Q.",
    ),
    faults.SUPPLY: (
        "Scope the supply at the chokes' common end: if it stands below the stated voltage or ripples, it is the supply.",
        "Use a supply that holds its voltage at this current, with a reservoir close to the chokes.",
    ),
    faults.CAPACITOR: (
        "Take the bank off and measure each capacitor with an LCR meter, capacitance and loss; feel, after switching off and "
        "discharging, whether one is hotter than the others.",
        "Replace what has failed; feed the bank from its middle so that all share the current.",
    ),
    faults.TURN: (
        "Measure the suspect with an LCR meter at the working frequency and compare it with its twin or its calculation: a "
        "shorted turn lowers the inductance and raises the resistance severalfold.",
        "Rewind or re-space the part with the shorted turn; look for chafed enamel and for metal across the coil's turns.",
    ),
    faults.CONNECTION: (
        "Measure the voltage drop across each joint of the suspected path with a differential probe, or its resistance cold with "
        "four wires: more than a milliohm is too much. A warm joint after a short run tells the same.",
        "Clean and bolt or braze the joint.",
    ),
    faults.OPEN: (
        "With the power off, measure drain to source of each device through its body diode, and each gate resistor; or put a "
        "current probe round the leads of each device in turn: the open one carries nothing and stays cold.",
        "Replace the open device and those beside it that carried its current, and solder its leads again.",
    ),
    faults.THRESHOLDS: (
        "Measure the threshold of a device of each bank at 1 mA, gate tied to drain; or swap the banks' devices: if the capture "
        "turns upside down, it is the devices and not the drive.",
        "Fit both banks with one type, from one lot.",
    ),
    faults.CLAMP: (
        "Scope each gate to its source: above the clamp's voltage there is no clamp; if one side's high level stands below the "
        "other's, take its zener off and look again.",
        "Replace the zeners on both sides, close to the gates, and keep the gate supply below their voltage. Gates that stood "
        "above their rating are suspect: replace the devices, too.",
    ),
    faults.LEAKY: (
        "With the power off and the chokes lifted, measure each drain to ground at some tens of volts: a sound one leaks "
        "microamperes. Idle, the leaking side's heat sink is the warmer one.",
        "Replace the device that leaks, and clean off burnt flux and carbon between drain and sink.",
    ),
    faults.INTERMITTENT: (
        "Tap and bend each joint and lead of the tank with an insulated rod while a long record runs: where the amplitude jumps, "
        "it is. An oxide film shows as a drop of a volt across a joint that hardly changes with current.",
        "Take the joint apart, clean it to bright metal, and bolt with spring washers or braze it.",
    ),
    faults.STEEL: (
        "Capture again at half the supply voltage, and with the bar above its Curie point or taken out: if the third harmonic "
        "goes, it is the steel.",
        "Nothing is broken. Where the peaks matter, use more turns on the coil or a lower voltage.",
    ),
    faults.TAP: (
        "Measure the coil at its terminals with an LCR meter, empty: inductance goes with the square of the turns. Count the turns "
        "between the clamps.",
        "Clamp the lead to the tap that the scenario means, or write what is there into the scenario.",
    ),
    faults.RESONANCE: (
        "Scope directly across the coil and then across the bank: between them stands what the leads take. Take off whatever sits "
        "across the coil, a snubber or an indicator, and capture again.",
        "Move the bank to the coil, with wide bars close together, and leave nothing capacitive across the coil.",
    ),
    faults.BENT: (
        "Capture again at half the supply voltage: if the frequency falls and the third harmonic goes, it is the capacitors. Read "
        "their dielectric: only film or class-1 ceramic keeps its capacitance.",
        "Fit polypropylene film or class-1 ceramic capacitors rated for the tank's current.",
    ),
    faults.SLOW_DIODES: (
        "Read the types of the two diodes from gate to opposite drain. Scope a gate and the opposite drain together: a slow diode "
        "carries the gate up with the rising drain before it lets go.",
        "Fit ultrafast or silicon-carbide diodes of the drains' voltage (recovery below some 75 ns), never mains rectifier types.",
    ),
    faults.COUPLED: (
        "With the power off, lift the chokes' leads without moving the rings and measure both in series with an LCR meter, then "
        "again with one choke turned round: sound ones read the same, and a quarter of the difference is the mutual inductance. "
        "Shorting one while the other is measured shows less: the share k^2.",
        "Mount the two rings apart, a ring's diameter between them, or with their axes at right angles; never stacked.",
    ),
    faults.PROBE: (
        "Compare with another probe and channel on the same two points, and with the calibration output of the oscilloscope: what "
        "stays with the probe is the probe.",
        "Compensate, replace or rearrange the probe and capture again; the heater itself is as its scenario says.",
    ),
    faults.NOTHING: (
        "Capture once more with the other case (idle or loaded) or at another supply voltage: a fault that hides in one rarely "
        "hides in both. Scope a choke's current, too: two chokes that keep a third of their inductance, or share a fifth of "
        "their flux, hardly change the coil's voltage.",
        "",
    ),
    NONE_OF_THESE: (
        "Scope each drain to ground and each gate, and capture idle and loaded; match all of them together.",
        "Check that the scenario is the heater that was captured.",
    ),
}
"""The one further measurement that would settle each cause, and what to change."""

NONE_FEATURE = "No cause on the list makes these lines."


def feature(datasets: Sequence[Dataset], one: HypothesisFit) -> str:
    """What in the first record speaks for a cause, with its numbers."""
    observation, library = datasets[0].observation, datasets[0].library
    reference, modulation = observation.layout.reference, observation.modulation
    frequency, lines, _ = lines_of(library.sound, library.signals)
    observed = _numbers(observation.frequency, observation.lines.lines[reference])
    sound = _numbers(frequency, lines[reference])
    f, a = observed["frequency"] / sound["frequency"] - 1, observed["peak"] / sound["peak"] - 1
    even = f"even harmonics {_percent(observed['even'])} of the fundamental (the scenario: {_percent(sound['even'])})"
    odd = f"odd harmonics {_percent(observed['odd'])} (the scenario: {_percent(sound['odd'])})"
    shift = f"the frequency is {_signed(f)} and the fundamental {_signed(a)} from the scenario's"
    drive = f"the third harmonic stands at {observed['third']:.0f} degrees to the crest (the scenario: {sound['third']:.0f})"
    bent = f"the third harmonic is {_percent(observed['h3'])} of the fundamental (the scenario: {_percent(sound['h3'])})"
    if one.hypothesis.name == RIPPLE and modulation:
        swing = f"{_percent(2 * modulation.amplitude)} peak to peak at {modulation.frequency:.4g} Hz"
        return f"The amplitude is modulated by {swing}; the shape stays."
    if one.hypothesis.name == COMES_AND_GOES and (wander := observation.lines.wander):
        return f"Within the record the frequency jumps, by {_percent(wander.swing)}, and the amplitude with it."
    return {
        faults.SUPPLY: f"The amplitude is off and the shape is not: {shift}.",
        faults.SATURATING: f"The halves are alike and peaked: {odd}, {even}.",
        faults.WEAKER: f"The two halves differ: {even}; {odd}.",
        faults.TURN: f"{even[0].upper()}{even[1:]}, {odd}; {shift}.",
        faults.GATE_RINGING: f"The edges are early and rough: {drive}; {odd}.",
        faults.GATE_DRIVE: f"The switches turn on late: {drive}; {shift}.",
        faults.LOAD: f"The tank is damped: {odd}; {shift}, as a workpiece takes inductance away.",
        faults.CAPACITOR: f"{shift[0].upper()}{shift[1:]}; {odd}.",
        faults.CONNECTION: f"{odd[0].upper()}{odd[1:]} while {shift}; {even}.",
        faults.OPEN: f"One side is a little slower and lossier than the other: {even}; {shift}.",
        faults.THRESHOLDS: f"The sides change over at different instants: {even}; {shift}.",
        faults.CLAMP: f"The gates' high level is not what it should be: {drive}; {even}; {shift}.",
        faults.LEAKY: f"One side damps its own half wave: {even}; {shift}.",
        faults.INTERMITTENT: f"A drop in the tank's leads that does not grow with current: {bent}; {shift}.",
        faults.STEEL: f"The tank's inductance gives way at the peaks of its current: {bent}, {even}; {shift}.",
        faults.TAP: f"The frequency is off and the shape hardly is: {shift}; {odd}.",
        faults.RESONANCE: f"The tank circuit holds more inductance than the coil: {shift}; {odd}.",
        faults.BENT: f"The tank's capacitance gives way at the peaks of its voltage: {bent}, {even}; {shift}.",
        faults.SLOW_DIODES: f"The gates are late in letting go of the drains: {drive}; {odd}; {even}; {shift}.",
        faults.COUPLED: f"Both chokes share a part of their flux: {shift}; {even}; {odd}.",
        faults.PROBE: f"No part of the heater makes this: {shift}; mean {_percent(observed['mean'])} of the fundamental; {odd}.",
        faults.NOTHING: f"All lines lie within the parts' tolerances: {shift}; {odd}; {even}.",
    }[one.hypothesis.cause]


def _numbers(frequency: float, c: Complex) -> dict[str, float]:
    """Frequency, fundamental, even and odd content, third harmonic, mean and the third's angle of a signal with lines c."""
    top = min(c.size, 13)
    size = np.abs(c) / abs(c[1])
    third = float(np.degrees(np.angle(c[3] * np.exp(-3j * np.angle(c[1])))))
    return {
        "frequency": frequency,
        "peak": float(abs(c[1])),
        "even": float(np.sqrt(np.sum(size[2:top:2] ** 2))),
        "odd": float(np.sqrt(np.sum(size[3:top:2] ** 2))),
        "h3": float(size[3]),
        "mean": float(size[0]),
        "third": third,
    }


def _percent(share: float) -> str:
    return f"{100 * share:.2g} %"


def _signed(share: float) -> str:
    return f"{100 * share:+.1f} %" if abs(share) >= 5e-4 else f"{100 * share:+.2f} %"
