# SPDX-License-Identifier: GPL-3.0-or-later
"""Sentences and cells about a match, shared by terminal, page and pictures."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence

from heatsim.errors import printable
from heatsim.report.base.findings import comparison, verdict_sentence
from heatsim.report.base.words import listed, measure_words, named_measure, part_words, value_text
from heatsim.studies.match import (
    DECIDED,
    NONE_OF_THESE,
    NOTHING,
    CauseCandidate,
    CorrelatedPair,
    Cure,
    FittedQuantity,
    MatchResult,
    Measure,
    Record,
    Spread,
)
from heatsim.studies.match.readings import ReadingsResult

VERDICTS = {"holds": "holds", "marginal": "holds, but only just", "fails": "still fails", "unknown": "cannot be judged as a whole"}
"""Verdict on the cured heater after "it then"."""

UNTOLD = "Where {} not pin a number down, it comes from the scenario and the usual spread of parts."
"""Under the fitted quantities; "the capture does" or "the readings do"."""

GREAT = math.log(DECIDED)
"""Natural log odds beyond which no number is given: there the faults of the models themselves decide."""

MISFIT = "Odds are against the first. Misfit: what the fit leaves over, relative to noise and model error; near 1 all is explained."
"""Under the ranking."""

TRUST = (
    f"Odds above {DECIDED:.0f} to 1 are not told apart, and should not be taken literally. Tried on 400 computed captures of "
    "heaters with other MOSFETs, chokes, coils and oscilloscopes than heatsim's: by tank and one drain 80 got such an answer "
    "that also fits well, 2 of them wrong; with a gate and a choke's current too, 122, 2 of them wrong. Of 200 "
    "sound heaters none was blamed. Make the deciding measurement before you change parts."
)
"""What the odds were measured on."""

OUTSIDE = (
    "First check that this is the scenario of the heater you captured, with the case, the supply voltage, the probes' "
    "factors and the coupling as they were. A part further from the scenario than these causes reach, or a cause that is not "
    "among them, looks like this too. No remedy is given, because this capture supports none."
)
"""What to do about a capture outside what heatsim knows."""

RANKED_ONLY = "None of them explains the capture: probabilities and odds only rank the causes among themselves."
"""Under the ranking, where the capture is outside what heatsim knows."""

CONTRADICTED = (
    "A probe's gain cannot explain that much: check which signal this is and its probe's factor and zero, or doubt the answer."
)
"""On a channel beside the ranking that is not as the best fit has it."""

BEYOND = 5.0
"""Times the ordinary spread from which no number is given: it would be extrapolated."""

SPREADS = {
    "capacitance": "capacitance of the bank",
    "coil": "inductance of the coil",
    "coil_resistance": "resistance of the coil",
    "load": "effect of the workpiece",
    "branch": "reactance over resistance of the workpiece",
    "ring": "inductance of the chokes",
    "reach": "current at which the chokes saturate",
    "steepness": "steepness with which the chokes saturate",
    "ring_split": "inductance of the left choke against the right",
    "copper_split": "resistance of the left choke against the right",
    "threshold": "threshold of the switches",
    "threshold_split": "threshold of the left bank against the right",
    "gate_supply": "gate supply",
    "pull_up": "pull-up of the gates",
    "gate_resistor": "gate resistors",
    "supply": "supply voltage",
    "input_capacitance": "input capacitance of the switches",
    "output_capacitance": "output capacitance of the switches",
    "gate_drain_charge": "gate-drain charge of the switches",
    "miller_voltage": "voltage at which the switches' reverse capacitance falls",
    "on_resistance": "on-resistance of the switches",
    "transconductance": "transconductance of the switches",
    "gate_inductance": "inductance of the gate loops",
    "drain_inductance": "inductance of the drain leads",
    "capacitor_inductance": "inductance of the capacitors",
    "bus_inductance": "inductance of the bus",
}
"""What sound parts differ by, in words."""

FULL = 1.05
"""Residual over noise up to which nothing is left beyond noise: some hundred samples do not tell their noise better."""

CAUTIONS = (
    (
        "Hundreds of volts",
        "Measuring on a live tank means several times the supply voltage at high frequency, and it burns deeply. "
        "Clip probes on with the supply off and the capacitors discharged and measured; "
        "hands off and out of the coil while it runs.",
    ),
    (
        "Probes",
        "Use differential probes rated for the peak voltage at the tank's frequency: their rating falls with frequency. An "
        "earth clip on tank or drain is a short circuit through the oscilloscope; never lift the oscilloscope's own earth instead.",
    ),
    (
        "Implants and red-hot metal",
        "The coil's field disturbs pacemakers and other implants and heats rings and tools: wearers "
        "keep well away. Workpieces burn long after they look cold.",
    ),
    (
        "Before changing parts",
        "A fit is no proof: make the deciding measurement first. Mains and stored charge are work for people "
        "licensed for it; local codes go before anything written here.",
    ),
)
"""Cautions by heading."""


def answer(result: MatchResult) -> str:
    """What the capture says, in one sentence."""
    best, behind = result.best, result.candidates[1:2]
    if result.outside:
        kept = (
            f"even the nearest cause, {phrase(result.nearest)}, leaves {result.nearest.misfit:.2g} times what noise and model allow"
        )
        return f"Outside what heatsim knows: {kept}."
    against = f" (odds {odds_words(-behind[0].log_evidence)} against the next, {phrase(behind[0])})" if behind else ""
    if best.cause == NOTHING and result.clearly_first:
        return (
            f"This capture shows nothing wrong{against}: it is what the scenario predicts. A fault as small as the "
            "tolerances of parts would not show."
        )
    if not result.decided:
        names = [phrase(each) for each in alike(result)]
        if len(names) < 2:
            left = f"it leaves {best.misfit:.2g} times what noise and model allow, more than right answers mostly do"
            return f"Undecided: {names[0]} is far ahead of the next, but {left}. It may be something that heatsim does not know."
        return f"Undecided between {listed(names)}: this capture cannot tell them apart."
    if best.cause != NONE_OF_THESE:
        return f"Most likely: {phrase(best)}{against}."
    left = f"the nearest, {phrase(result.nearest)}, leaves {result.nearest.misfit:.2g} times what noise and model allow"
    return f"None of these causes explains the capture: {left}."


def spread_sentence(spread: Spread) -> str:
    """How far the heater is from the ordinary spread of its kind."""
    beyond = spread.distance > BEYOND
    far = [SPREADS[name] + ("" if beyond else f" by {value:+.1f} standard deviations") for name, value in spread.furthest]
    more = f"; furthest: {listed(far)}".replace("-", "−") if far else ""
    times = f"more than {BEYOND:.0f}" if beyond else f"{spread.distance:.2g}"
    apart = f"its parts are {times} times as far from the scenario as ordinary spread would put them"
    return f"If the heater is sound, {apart} (about 1 if it is sound){more}."


def phrase(candidate: CauseCandidate) -> str:
    """A candidate in words: its fault model, which says more than its cause."""
    if candidate.cause == NONE_OF_THESE:
        return "none of these causes"
    return printable(candidate.kind or candidate.cause)


def finer(candidate: CauseCandidate) -> str:
    """The fault model of a simulated candidate, where it says more than the cause."""
    return printable(candidate.kind) if candidate.simulated and candidate.kind != candidate.cause else ""


def alike(result: MatchResult) -> list[CauseCandidate]:
    """The candidates that cannot be told apart, or the best alone."""
    found = [each for each in result.candidates if each.cause in result.alike]
    return found or [result.best]


def odds_words(log_odds: float) -> str:
    """Odds from their natural logarithm: "3.5 to 1", "more than 50 to 1"."""
    if log_odds >= GREAT:
        return f"more than {DECIDED:.0f} to 1"
    odds = math.exp(log_odds)
    return f"{odds:.1f} to 1" if odds < 9.95 else f"{odds:.0f} to 1"


def behind_words(candidate: CauseCandidate) -> str:
    """Odds of a candidate to the best: "1 to 3.5"; a dash for the best."""
    if candidate.log_evidence >= 0:
        return "–"
    if -candidate.log_evidence >= GREAT:
        return f"< 1 to {DECIDED:.0f}"
    return "1 to " + odds_words(-candidate.log_evidence).removesuffix(" to 1")


def probability(candidate: CauseCandidate) -> str:
    """As a percentage, no surer than odds are told."""
    share, least = candidate.probability, 1 / (1 + DECIDED)
    if share < least:
        return f"< {100 * least:.0f} %"
    return f"> {100 * (1 - least):.0f} %" if share > 1 - least else f"{100 * share:.0f} %"


def found_text(measure: Measure, unit: str) -> str:
    """A measured number with as many digits as its error allows, and the error."""
    value, error = measure.value, measure.error
    if error is None or not math.isfinite(error) or error <= 0 or not value:
        return value_text(value, unit)
    digits = min(max(math.floor(math.log10(abs(value))) - math.floor(math.log10(error)) + 1, 2), 7)
    if not unit:
        return f"{value:.{digits}g} ± {error:.2g}".replace("-", "−")
    return f"{value_text(value, unit, digits)} ± {value_text(error, unit, 2)}"


def record_rows(record: Record) -> Iterator[tuple[str, str]]:
    """What was read from a capture, as (label, text)."""
    channels = ", ".join(f"{channel} is {part_words(signal)}" for channel, signal in record.signals.items())
    unit_of = {signal: "A" if signal.endswith("current") else "V" for signal in record.noise}
    yield "channels", printable(channels)
    yield "taken as", f"case {printable(record.case)}, supply {value_text(record.supply_voltage, 'V')}"
    yield "tank frequency", f"{found_text(record.frequency, 'Hz')}, {record.periods:.4g} periods"
    for key, measure in record.measures.items():
        if key != "tank.frequency_hz":
            yield measure_words(key), found_text(measure, named_measure(key)[2])
    noise = ", ".join(f"{part_words(signal)} {value_text(rms, unit_of[signal])}" for signal, rms in record.noise.items())
    if noise:
        yield "noise of a sample, rms", noise
    if record.ripple:
        yield "amplitude ripples by", f"{value_text(record.ripple[0], 'ratio')} at {value_text(record.ripple[1], 'Hz')}"


def not_ranked_sentences(result: MatchResult) -> tuple[str, ...]:
    """Which channels the ranking did not use, a sentence a capture."""
    found = []
    for number, record in enumerate(result.records, start=1):
        names = [f"{part_words(each.signal)} ({each.channel})" for each in record.not_ranked]
        if names:
            which = f" of capture {number}" if len(result.records) > 1 else ""
            found.append(printable(f"Not used for the ranking{which}, measured only: {listed(names)}."))
    return tuple(found)


def contradiction_sentences(result: MatchResult) -> tuple[str, ...]:
    """Warnings of channels beside the ranking that are not as the best fit has them, one a channel."""
    several, near = len(result.records) > 1, "nearest" if result.outside else "best"
    found = []
    for number, record in enumerate(result.records, start=1):
        for each in record.not_ranked:
            what = part_words(each.signal) + (f" of capture {number}" if several else "")
            if each.fitted is None:
                found.append(f"Warning: {what}: the {near} fit has no such signal, so there is nothing to compare it with.")
            elif each.differs:
                pairs = [
                    (key, value_text(each.captured[key], each.unit), value_text(each.fitted[key], each.unit))
                    for key in each.differs
                ]
                (key, seen, fitted), more = pairs[0], [f"{key} {seen} and {fitted}" for key, seen, fitted in pairs[1:]]
                rest = f" ({'; '.join(more)})" if more else ""
                found.append(f"Warning: {what}, {key}: {seen} captured, {fitted} in the {near} fit{rest}. {CONTRADICTED}")
    return tuple(printable(text) for text in found)


def untold(estimates: Sequence[FittedQuantity]) -> bool:
    """Whether some estimate is not told by what was measured."""
    return any(each.told == "no" for each in estimates)


def estimate_rows(estimates: Sequence[FittedQuantity]) -> Iterator[tuple[str, str, str, str, str]]:
    """Label, value, interval, the scenario's value, and whether what was measured tells it."""
    for each in estimates:
        value, low, high, expected = (value_text(v, each.unit) for v in (each.value, each.low, each.high, each.expected))
        yield printable(each.label), value, f"{low} to {high}", expected, each.told


def tied_sentence(tied: CorrelatedPair, estimates: Sequence[FittedQuantity]) -> str:
    """That only a combination is known."""
    labels = {each.key: printable(each.label) for each in estimates}
    names = listed([f"({labels.get(key, key)})" for key in tied.keys])
    sign = f"{tied.correlation:+.2f}".replace("-", "−")
    return f"Only a combination of {names} is known (correlation {sign}): each may move within its interval if the other follows."


def fitted_verdict(result: MatchResult | ReadingsResult) -> str:
    """Whether the heater as fitted holds, in every case."""
    if result.checked is None:
        return "Whether every limit holds was not judged: no one file describes the fitted heater in every case. Check before use."
    return f"heatsim check says of fitted.toml: {result.checked.verdict}. {verdict_sentence(result.checked)}"


HEAT_AND_SATURATION = ("temperature", "inductance left at the peak")
"""Limits that are told of a fitted heater whether they hold or not."""

MOST_ROWS = 12
"""Findings told of a fitted heater."""


def fitted_findings(result: MatchResult | ReadingsResult) -> list[tuple[str, str, str]]:
    """Grade, case, and finding in words, of the limits not held, worst first, and of temperature and saturation in any case."""
    every = result.checked.findings if result.checked else ()
    chosen = [row for row in every if row[1].grade != "holds"][:MOST_ROWS]
    more = [row for row in every if row[1].grade == "holds" and row[1].limit in HEAT_AND_SATURATION]
    return [(finding.grade, printable(case), comparison(finding)) for case, finding in [*chosen, *more]]


def cure_rows(cure: Cure) -> list[tuple[str, str, str]]:
    """(label, before, after) of the measures both sides have."""
    both = ((key, named_measure(key)[2]) for key in cure.before if key in cure.after)
    return [(measure_words(key), value_text(cure.before[key], unit), value_text(cure.after[key], unit)) for key, unit in both]


def cure_sentence(cure: Cure) -> str:
    """What was simulated, which is not always the remedy as it is worded, and whether it does."""
    end = "is then within" if cure.clean else "then still exceeds"
    return f"Simulated without this fault, all else as fitted: the distortion {end} the scenario's limit."


def cure_verdict(cure: Cure) -> str:
    """Whether the cured heater holds as a whole, in every case."""
    if cure.checked is None:
        return (
            "Whether every limit then holds was not judged: no one file describes the mended heater in all cases. Check before use."
        )
    verdict = f"Judged by every limit in every case, at the scenario's supply voltage, it then {VERDICTS[cure.checked.verdict]}."
    more = " heatsim check on the scenario searches for changes that would make it hold." if cure.short else ""
    return f"{verdict} {verdict_sentence(cure.checked)}{more}"


def fields_text(fields: Mapping[str, str | int]) -> str:
    """Fields as they are set on the command line."""
    return ", ".join(f"{key} = {value}" for key, value in fields.items())


def residual_words(residual: float, noise: float, unit: str) -> str:
    """What the fit leaves of a signal against its noise."""
    left = f"{value_text(residual, unit)} rms per sample is left over; the noise is {value_text(noise, unit)}"
    if noise <= 0:
        return left
    return f"{left}: " + ("nothing beyond noise" if residual <= FULL * noise else f"{residual / noise:.2g} times as much")


def residual_rows(result: MatchResult) -> list[tuple[str, str]]:
    """Signal and what the best fit leaves of it, for every signal of every capture."""
    several = len(result.records) > 1
    return [
        (
            part_words(trace.signal) + (f", capture {trace.record + 1}" if several else ""),
            residual_words(trace.residual, trace.noise, trace.unit),
        )
        for trace in result.traces
    ]


def misfit_text(candidate: CauseCandidate) -> str:
    """The misfit in three digits, a dash where there is none."""
    if not math.isfinite(candidate.misfit):
        return "–"
    return f"{candidate.misfit:.3g}" if candidate.misfit < 999.5 else "> 999"


def remark(candidate: CauseCandidate) -> str:
    """What stands beside a candidate in the ranking."""
    return "" if candidate.simulated or candidate.cause == NONE_OF_THESE else "ruled out at first look"


def captures(result: MatchResult) -> str:
    """Files of the records in a sentence."""
    return listed([printable(record.label.replace("\\", "/").rsplit("/", 1)[-1]) for record in result.records])
