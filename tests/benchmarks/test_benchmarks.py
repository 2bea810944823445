# SPDX-License-Identifier: GPL-3.0-or-later
"""The benchmarks run, compare like with like, and the page tells what the run found. No speed is asserted."""

from __future__ import annotations

import re
import shutil
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from heatsim.engine.outcome import Run
from heatsim.engine.session import Session
from heatsim.studies.check import case_deck
from heatsim.waves import Waveforms
from tests.benchmarks import results as runs
from tests.benchmarks import scaling, tables, truth
from tests.benchmarks.circuits import Circuit, by_size, circuits, quality
from tests.benchmarks.clock import Spans, Spread, Took, now
from tests.benchmarks.estimate import Costs, costs, estimates, starts
from tests.benchmarks.methods import CHEAPEST, FASTER, LOAD, METHODS, SETTLED, SUPPLY, Ends, Timing
from tests.benchmarks.page import summary, write
from tests.benchmarks.profile import FUNCTIONS, MESSAGE, REST, SHELVED, STORED, Part
from tests.benchmarks.results import Extent, Machine, Results
from tests.benchmarks.scaling import MILLION, Beside, ColdStarts, Sized, Swept, fitted
from tests.benchmarks.truth import COLUMNS, Short, Truth, errors, worst

RIGHT = {
    "tank.frequency_hz": 86e3,
    "tank.peak_voltage_v": 130.0,
    "drain.left.peak_voltage_v": 131.0,
    "drain.right.peak_voltage_v": 132.0,
    "choke.left.peak_current_a": 20.0,
    "choke.right.peak_current_a": 21.0,
    "supply.mean_current_a": 25.0,
    "tank.thd_ratio": 0.012,
}

TINY = Extent("tiny", 1, 1, (1,), (4,), 4, (), 400, (2, 4))


class Callees:
    """Functions that spend known amounts of processor time."""

    @staticmethod
    def busy(seconds: float) -> None:
        until = time.process_time() + seconds
        while time.process_time() < until:
            pass

    @classmethod
    def outer(cls) -> None:
        cls.busy(0.02)
        cls.inner()

    @classmethod
    def inner(cls) -> None:
        cls.busy(0.04)


def test_time_is_booked_on_the_function_it_is_spent_in() -> None:
    originals = vars(Callees)["outer"], vars(Callees)["inner"]
    spans = Spans({"outer": [(Callees, "outer")], "inner": [(Callees, "inner")]})
    begun = now()
    with spans:
        Callees.outer()
        Callees.busy(0.01)
    spent = now() - begun
    assert [spans.own[name].cpu for name in ("outer", "inner", "rest")] == pytest.approx([0.02, 0.04, 0.01], abs=0.008)
    assert spans.whole["outer"][0].cpu == pytest.approx(0.06, abs=0.008)
    assert sum(took.cpu for took in spans.own.values()) == pytest.approx(spent.cpu, abs=0.002)
    assert Callees.outer.__func__ is originals[0].__func__ and Callees.inner.__func__ is originals[1].__func__


def test_quartiles() -> None:
    assert Spread.of([1.0, 2.0, 3.0, 4.0, 5.0]) == Spread(3.0, 2.0, 4.0, 5)
    assert Spread.of([7.0]) == Spread(7.0, 7.0, 7.0, 1)


def test_errors_are_the_worse_sides_and_judged_by_what_is_allowed() -> None:
    found = RIGHT | {"choke.right.peak_current_a": 21.0 * 0.98, "choke.left.peak_current_a": 20.0 * 1.01, "tank.thd_ratio": 0.0125}
    off = errors(found, RIGHT)
    assert off == pytest.approx((0.0, 0.0, 0.0, -0.02, 0.0, 0.0005))
    assert worst(off) == pytest.approx(2.0)
    assert worst(errors(RIGHT | {"supply.mean_current_a": None}, RIGHT)) == float("inf")


def test_strips_end_at_the_circuit_itself() -> None:
    for circuit in circuits():
        for start, path in (circuit.over_supply(), circuit.over_load()):
            assert path[-1] == circuit.point()
            heaters = [circuit.scenario.change(dict(point.fields)).heater("loaded") for point in (start, *path)]
            steps = [
                {(a.supply.voltage, a.loaded_inductance) != (b.supply.voltage, b.loaded_inductance)}
                for a, b in zip(heaters, heaters[1:], strict=False)
            ]
            assert steps == [{True}] * len(path)


def test_circuits_differ_in_what_they_are_there_for() -> None:
    loaded, _, idle, unequal, ringing = circuits()
    assert quality(ringing) > 2 * quality(idle) > 10 * quality(loaded)
    zero = {choke.side: choke.curve.inductance_zero for choke in unequal.scenario.heater("loaded").chokes}
    assert zero["right"] / zero["left"] == pytest.approx((17 / 20) ** 2, rel=0.03)
    separate = idle.scenario.change(dict(idle.point().fields)).heater("loaded")
    empty = idle.scenario.heater("idle")
    assert separate.loaded_inductance == pytest.approx(empty.loaded_inductance, rel=1e-3)


def test_banks_of_separate_devices_are_the_same_bank(tmp_path: Path) -> None:
    chosen = {circuit.name: circuit.scenario for circuit in by_size(tmp_path, (2, 8))}
    texts = [case_deck(chosen[f"banks of {count}, user's model"], "loaded").circuit for count in (2, 8)]
    counts = [len(re.findall(r"^m\d+ dp gp s own$", text, re.MULTILINE)) for text in texts]
    assert counts == [4, 16]
    values = [float(re.search(r"\bkp=([\d.e+-]+)", text)[1]) for text in texts]
    assert values[0] / values[1] == pytest.approx(4.0, rel=1e-4)


def settling(circuit: Circuit, home: float) -> Run:
    """A made run whose tank voltage comes home to 130 V as exp(-t/1 ms), from `home` of it too high at t = 0."""
    deck = case_deck(*truth.at_point(circuit))
    time_ = np.arange(0.0, 6e-3, deck.period / 100)
    wave = 130.0 * (1 + home * np.exp(-time_ / 1e-3)) * np.sin(2 * np.pi * 86e3 * time_)
    waves = Waveforms(time_, {"tank.voltage": wave}, {"tank.voltage": "V"})
    return Run("settled", "", waves, deck)


def test_the_shortest_run_is_the_earliest_that_stays_right(monkeypatch: pytest.MonkeyPatch) -> None:
    circuit = circuits()[0]
    monkeypatch.setattr(truth, "COLUMNS", COLUMNS[1:2])  # 0.5 % of the tank's peak, reached from 10 % after ln 20 ms
    right = {"tank.peak_voltage_v": 130.0}
    short = truth._shortest(circuit, "2 ms", settling(circuit, 0.1), right)
    last_window = truth.TAIL / 86e3
    assert np.log(20) * 1e-3 <= short.stop <= np.log(20) * 1e-3 + last_window + 3 / 86e3
    assert abs(short.off[0]) <= 5e-3
    assert truth._shortest(circuit, "2 ms", settling(circuit, 10.0), right) is None


PLANNED = ColdStarts(1, 3, 4)
"""Cold starts by the plan of every sweep; one more was made."""


def made(turns: int = 3) -> Results:
    """Results of two circuits, invented but in every form they take: missing ways, missed errors, one bank, fallbacks."""
    chosen = circuits()[:2]
    truths = [
        Truth(
            circuit,
            RIGHT,
            k == 0,
            12e-3,
            2.7e-3,
            Short("2 ms", 2.2e-3, (0.0,) * 6) if k == 0 else None,
            Short("100 us", 0.9e-3, (0.0,) * 6),
        )
        for k, circuit in enumerate(chosen)
    ]
    off = (2e-4, 6e-3, 1e-4, None, -4e-3, -5e-4)
    timed = [
        Timing(
            method,
            one.circuit.name,
            turn,
            Took(2e-3 * cost, 1e-3 * cost),
            Took(3e-3 * cost, 2e-3 * cost),
            off,
            4 if method in (SUPPLY, LOAD) else None,
            "periodic" if method in (SUPPLY, LOAD) else "settled",
        )
        for one in truths
        for turn in range(turns)
        for method, cost in zip(METHODS, COSTS, strict=True)
        if not (method == CHEAPEST and one.own is None)
    ]
    parts = [Part(name, Took(4e-3, 3e-3)) for name in (*FUNCTIONS, REST)]
    parts += [Part(MESSAGE, Took(4e-4, 4e-4)), Part(STORED, Took(5e-3, 1e-3)), Part(SHELVED, Took(9e-3, 4e-3))]
    ways = {"periodic": 20, "cold start, then periodic": 4, "cold start": 1}
    swept = [
        Swept(
            workers, points, Took(2 + 0.1 * points, 0.15 * points), 0.002 * points, Took(6e-3, 1e-3), ways, 4500 * points, PLANNED
        )
        for workers, points in ((1, 25), (2, 25), (2, 50))
    ]
    sized = [
        Sized(name, states, Spread(0.06, 0.05, 0.07, 4), Spread(0.04, 0.03, 0.05, 4), 5e-3)
        for name, states in (("two chokes", 61), ("banks of 2, user's model", 65), ("banks of 8, user's model", 77))
    ]
    machine = Machine("a processor", 2, "a system", "3.11", "ngspice-39", "0.1", "2001-02-03", (0.5, 0.25))
    extent = Extent("made", 2, turns, (1, 2), (25, 50), 25, (2, 8), 200, (25, 50))
    return Results(
        extent,
        machine,
        truths,
        timed,
        parts,
        Ends(Spread(0.9, 0.8, 1.0, 4), Spread(0.6, 0.5, 0.7, 4)),
        swept,
        sized,
        1e-4,
        6.5,
        [Beside(workers, 50, 0.04, Spread(1.0, 0.9, 1.1, 4), ways, PLANNED) for workers in (1, 2)],
        {chosen[0].name: 0.02},
        ColdStarts(1000, 9000, 10_000),
        [Swept(1, n, Took(9.0, 0.2 * n), 0.1, Took(6e-3, 1e-3), ways, 4500, PLANNED) for n in (25, 50)],
        Spread(0.04, 0.03, 0.05, 3),
    )


COSTS = (1200.0, 1000.0, 500.0, 800.0, 300.0, 200.0, 20.0, 40.0)
"""Of the ways, simulator's processor time [ms]; the whole point takes twice as long."""


def test_the_page_tells_what_was_measured(tmp_path: Path) -> None:
    path = write(made(), tmp_path)
    text = path.read_text(encoding="utf-8")
    assert [name for name in METHODS if text.count(f"| {name} ") < 2] == []
    assert re.search(rf"\| {CHEAPEST} / {SUPPLY} +\| simulator +\| +40 \(40–40\) \| +– \|", text)
    assert re.search(rf"\| {SETTLED} / {LOAD} +\| whole point +\| +25 \(25–25\) \| +25 \(25–25\) \|", text)
    assert re.search(rf"\| {CHEAPEST} +\| +80 \| +– \|", text), (
        "1.6 s of a point against 20 ms; of the other circuit nothing is known"
    )
    assert re.search(r"\| whole sweep of 50 points, workers: 2 +\| +2 \| +– \|", text)
    assert "against *cheapest settled*: simulator alone 40 to 40 times (at least 30 in 1 and 50 in 0 of 1 circuits)" in text
    assert re.search(
        r"\| until settled +\| +1000 \(1000–1000\) \| +2000 \(2000–2000\) \| +3000 \(3000–3000\) \| +– \|"
        r" +\+0.020 \| +\+0.600 ✗ \| +\+0.010 \| +– ✗ \| +−0.400 \| +−0.050 \|",
        text,
    )
    assert re.search(r"\| +2 \| +50 \| +5 \| +40\.0 \| +1000 \(900–1100\) \| +25\.0 \|", text)
    assert "still moving" in text and "(not reached: small rings, loaded)" in text
    assert not re.search(r"\bnan\b|\binf\b|None", text)
    assert text.count("|---:") == 0 and all(re.fullmatch(r"[| :-]+", line) for line in text.splitlines() if "---" in line)


def test_the_page_has_its_pictures_beside_it(tmp_path: Path) -> None:
    text = write(made(), tmp_path).read_text(encoding="utf-8")
    for name in re.findall(r"\]\((\S+\.png)\)", text):
        data = (tmp_path / name).read_bytes()
        assert data.startswith(b"\x89PNG") and 5_000 < len(data) < 150_000
    assert len(list(tmp_path.glob("*.png"))) == 2


def test_the_command_prints_ratios() -> None:
    assert any(line.startswith(f"| {FASTER} / {SUPPLY}") and "15 (15–15)" in line for line in summary(made()))


def test_a_ratio_compares_within_a_turn() -> None:
    found = made(2)
    slower = [replace(each, whole=Took(9.0, 10 * each.whole.cpu)) if each.turn else each for each in found.timings]
    spread = tables.ratio(
        replace(found, timings=slower), found.truths[0].circuit.name, SETTLED, SUPPLY, lambda each: each.whole.cpu
    )
    assert spread == Spread(50.0, 50.0, 50.0, 2)


def test_a_million_points_on_paper() -> None:
    """2 h of followed points, 0.5 h without a neighbour, 2 h at ends and 1 h beyond the plan, 1 h around."""
    rest = {"store": 4e-3, "keep": 1e-3, "register": 3.6e-4, "row": 4500.0}
    each = Costs(7.2e-3, 1.8, 0.7272, 3.6e-3, 0.0, ColdStarts(1000, 10_000, 20_000), 0.25, **rest)
    one, two, *_, many = estimates(each)
    assert one.hours == pytest.approx(0.999 * 2 + 0.5 + 2 + 1 + 1 + 0.1)
    assert two.hours == pytest.approx((one.hours - 0.1) / 2 + 0.1)
    assert (two.held_up_by, many.held_up_by) == ("cold starts", "the store's process")
    assert many.hours == pytest.approx((5e-3 + 3.6e-4) * 1e6 / 3600)
    assert starts(4000, 3) == 3 and starts(MILLION) == MILLION / 2000
    assert replace(each, start=3.6).million == pytest.approx(each.million + 1800)


def test_costs_are_what_was_measured_and_the_rest_of_whole_sweeps() -> None:
    """Sweeps of 50 and of 25 points that cost 10 s and 5 s, with 1 point of 0.9 s and 4 times 0.56 s in both."""
    found = made()
    each = costs(found)
    assert (each.followed, each.first, each.end) == (0.04, 0.9, 0.6)
    assert each.around == pytest.approx((10 - 5) / 25 - 0.04)
    assert each.start == pytest.approx(10 - 50 * each.around - 49 * 0.04 - 0.9 - 4 * 0.56)
    assert each.sweep(50, 1, 4) == pytest.approx(10) and each.sweep(25, 1, 4) == pytest.approx(5)
    assert each.more == pytest.approx(1 / 4) and each.besides == pytest.approx(9000 + 2500)
    assert each.store == 6e-3 and each.row == 4500
    assert fitted(found.swept[1:]) == pytest.approx((2.0, 0.1))


def test_what_a_sweep_starts_cold_by_its_plan() -> None:
    """Four paths of five rows of 20 in one chain: their ends, one of them in a corner, two more corners; the first point is one.
    Then two paths in each of 100 rows of 200, ten in a chain: two of their ends are in corners, and one corner is none.
    """
    bench = circuits()[0].scenario
    assert scaling.planned(scaling.plan_of(bench, 400), 1) == ColdStarts(1, 4 + 2, 4)
    assert scaling.planned(scaling.fine_plan(bench, 20_000), 1) == ColdStarts(20, 200 + 1, 200)


def test_close_points_are_as_close_as_a_million() -> None:
    bench = circuits()[0].scenario
    close, fine = scaling.close_plan(bench, 5), scaling.fine_plan(bench, MILLION)
    steps = [np.diff(plan.axes[1].numbers) for plan in (close, fine)]
    assert len(close) == 5 and len(fine) == MILLION
    assert steps[0] == pytest.approx(steps[1][:4], rel=1e-4)


@pytest.mark.slow
@pytest.mark.ngspice
@pytest.mark.skipif(shutil.which("ngspice") is None, reason="needs the plain ngspice program")
def test_a_tiny_run_from_end_to_end(monkeypatch: pytest.MonkeyPatch, tmp_path: Path, session: Session) -> None:
    monkeypatch.setattr(truth, "LEAST_REFERENCE", 3e-3)
    monkeypatch.setattr(truth, "RISES", ("200 us",))
    monkeypatch.setitem(scaling.GRIDS, 4, (2, 2))
    monkeypatch.setattr(scaling, "by_size", lambda folder, banks: by_size(folder, banks)[1:2])
    monkeypatch.setattr(runs, "Session", lambda: session)  # a process has only one
    told: list[str] = []
    found = runs.benchmark(TINY, told.append)
    assert {each.method for each in found.timings} == set(METHODS)
    assert all(each.came_to == "periodic" for each in found.timings if each.method.startswith("periodic"))
    missed = {each.method: each.off for each in found.timings if each.off is not None and worst(each.off) > 1}
    assert not missed, "at the same accuracy or not at all"
    (one,) = found.truths
    assert one.free.stop < one.own.stop <= one.check_stop < one.reached
    assert {part.name for part in found.parts} == {*FUNCTIONS, REST, MESSAGE, STORED, SHELVED}
    assert sum(found.swept[0].methods.values()) == 4 and found.sized[0].states > 40
    text = write(found, tmp_path).read_text(encoding="utf-8")
    assert "Bench heater, loaded" in text and told
