# SPDX-License-Identifier: GPL-3.0-or-later
"""A workpiece that moves in the run: the netlist's text, and the tank that is left against the closed form of an RLC loop."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from heatsim.errors import InputError
from heatsim.netlist.generate import make_deck
from heatsim.netlist.movement import moving_tank
from heatsim.netlist.tank import emit_tank
from heatsim.parts.damage import Damage, steel_at
from heatsim.parts.heater import Heater
from heatsim.parts.tank import Movement
from heatsim.scenario.scenario import Scenario
from tests.netlist.test_library import run
from tests.support.book import CLOSED, known

BENCH = Scenario.from_file(Path(__file__).resolve().parents[2] / "scenarios" / "bench-heater.toml")
OUT = Movement(True, 3e-3, 1e-6)
WORKPIECE = "case.loaded.workpiece.measured"


def loaded(**fields: str) -> Heater:
    """The loaded bench heater with some fields changed."""
    return BENCH.change({name.replace("__", "."): value for name, value in fields.items()}).heater("loaded")


def magnetic() -> Heater:
    """A workpiece that raises the inductance."""
    heater = loaded()
    assert heater.workpiece is not None
    return replace(heater, workpiece=replace(heater.workpiece, inductance=1.95e-6))


def test_only_the_tank_has_other_lines() -> None:
    still, moving = (make_deck(loaded(), "x", movement=each).circuit.splitlines() for each in (None, OUT))
    added, gone = [line for line in moving if line not in still], [line for line in still if line not in moving]
    assert gone == [
        ".subckt hs_tank tl tr c=2u esr=1m esl=10n lcoil=1.7u rcoil=14m llead=60n rlead=1m lw=1u rw=1 kw=1e-6",
        "rw w1 w2 {rw}",
        ".ends hs_tank",
        "xtank t_left t_right hs_tank",
    ]
    branch = loaded().branch
    assert branch is not None
    assert added[2:4] == ["vin in 0 pwl(0 1 0.003 1 0.003001 0)", f"brw w1 w2 i=v(in)*v(w1,w2)/{branch.resistance:.9g}"]
    assert added[4] == f"bflux l3 l4 i={1 - 1.75e-6 / branch.primary:.9g}*(1-v(in))*i(vl)"
    assert len(added) == 7


def test_one_that_is_put_in_begins_without() -> None:
    text = make_deck(loaded(), "x", movement=replace(OUT, leaves=False)).text
    assert "vin in 0 pwl(0 0 0.003 0 0.003001 1)" in text
    assert "workpiece that is put in" in text


def test_both_halves_of_a_tapped_coil_are_treated_alike() -> None:
    text = make_deck(loaded(heater__topology="one-choke"), "x", movement=OUT).text
    first, second = (next(line for line in text.splitlines() if line.startswith(name)) for name in ("bflux1", "bflux2"))
    assert first.replace("bflux1 l3 tap", "bflux2 tap l5").replace("i(vl)", "i(vr)") == second


def test_a_workpiece_that_brings_no_flux_needs_no_other_inductance() -> None:
    heater = loaded()
    assert heater.workpiece is not None
    plain = replace(heater, workpiece=replace(heater.workpiece, inductance=1.4e-6))  # x above 1: L1 = L0
    assert "bflux" not in make_deck(plain, "x", movement=OUT).text


@pytest.mark.parametrize("heater", [
    BENCH.heater("idle"),
    replace(BENCH.heater("loaded"), damage=Damage(steel=steel_at(0.14, 150.0, 1.4, 5e5))),
])  # fmt: skip
def test_what_cannot_move_is_refused(heater: Heater) -> None:
    with pytest.raises(InputError, match="workpiece"):
        make_deck(heater, "x", movement=OUT)


def ring(folder: Path, heater: Heater, leaves: bool) -> tuple[float, float]:
    """Frequency [Hz] and decay [1/s] of the tank left to itself after the workpiece has moved within the first microsecond."""
    part = moving_tank(emit_tank(heater), heater, Movement(leaves, 1e-8, 1e-6))
    volts = " ".join(f"v({node})=100" for node in ("t_left", "xtank.c1", "xtank.c2", "xtank.c3"))
    deck = [
        "* tank left to itself", *part.subcircuits, part.lines, "vend t_right 0 0", f".ic {volts}",
        ".option method=trap reltol=1e-6", ".tran 10n 150u 0 10n uic", ".save i(v.xtank.vl)", ".end", "",
    ]  # fmt: skip
    time, current = run(folder, "\n".join(deck)).T[:2]
    late = time > 5e-6
    time, current = time[late], current[late]
    rises = np.flatnonzero((current[:-1] < 0) & (current[1:] >= 0))
    zeros = time[rises] - current[rises] * np.diff(time)[rises] / np.diff(current)[rises]
    peaks = np.array([current[a:b].max() for a, b in zip(rises[:-1], rises[1:], strict=True)])
    return 1 / np.diff(zeros).mean(), -np.polyfit(zeros[:-1], np.log(peaks), 1)[0]


def loop(heater: Heater) -> tuple[float, float]:
    """The same of a series RLC loop: damped frequency and r/2L."""
    henry, ohms = heater.tank_inductance, heater.loaded_resistance
    decay = ohms / (2 * henry)
    return math.sqrt(1 / (henry * heater.capacitors.capacitance) - decay**2) / (2 * math.pi), decay


@pytest.mark.ngspice
@pytest.mark.parametrize("heater", [loaded(), magnetic(), loaded(heater__topology="one-choke")], ids=["bar", "magnetic", "tapped"])
def test_once_it_is_gone_the_tank_rings_as_the_empty_one(tmp_path: Path, heater: Heater) -> None:
    frequency, decay = ring(tmp_path, heater, leaves=True)
    wanted = loop(replace(heater, workpiece=None))
    what, loop_of = "tank after its piece is gone", "R, L, C of the empty loop"
    assert frequency == known(wanted[0], f"{what}: frequency", loop_of, CLOSED, unit="Hz", rel=2e-4)
    assert decay == known(wanted[1], f"{what}: decay", loop_of, CLOSED, unit="1/s", rel=2e-3)
    assert abs(frequency / loop(heater)[0] - 1) > 0.01


@pytest.mark.ngspice
def test_once_it_is_in_the_tank_rings_as_the_loaded_one(tmp_path: Path) -> None:
    """The branch stands for the workpiece at the working frequency; a ring that decays as fast differs in the second order of 1/2Q,
    0.4 %."""
    frequency, decay = ring(tmp_path, loaded(), leaves=False)
    assert frequency == pytest.approx(loop(loaded())[0], rel=0.01)
    assert decay == pytest.approx(loop(loaded())[1], rel=0.05)
