# SPDX-License-Identifier: GPL-3.0-or-later
"""Gate networks with a driver in plain ngspice, alone on a bench: thresholds, delay, output resistance, peak current and gain."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from heatsim.netlist.gate import emit_gate, emit_gate_supply
from heatsim.parts.gate import GateDrive, IntegratedDriver, TotemPole
from heatsim.scenario.scenario import Scenario
from tests.netlist.test_library import run
from tests.support.book import CLOSED, known

pytestmark = pytest.mark.ngspice

DEMO = Scenario.from_file(Path(__file__).resolve().parents[2] / "scenarios" / "bench-heater-push-pull.toml")
INTEGRATED = IntegratedDriver(2.0, 1.0, 3.0, 5.0, 30e-12, 1.5, 2.5, 40e-9)
TOTEM = TotemPole(1.0, 0.7, 4.0, 4.0, 30e-12, 100.0)


def on_the_bench(folder: Path, driver: IntegratedDriver | TotemPole, *lines: str) -> dict[str, np.ndarray]:
    """The left network at 14 V with `lines` round it: time, output, input and output current over 2 us, the other drain at 40 V
    from 0.5 to 1.5 us unless one of them has it."""
    gate: GateDrive = replace(DEMO.heater("loaded").gate, driver=driver, supply_rise=1e-9)
    part = emit_gate(gate, "left")
    drain = [] if any("d_right" in line for line in lines) else ["vdrain d_right 0 pwl(0 0 0.5u 0 0.501u 40 1.5u 40 1.501u 0)"]
    supply = emit_gate_supply(gate, paused=True).lines
    deck = ["* driver", *part.subcircuits, supply, part.lines, *drain, *lines, ".option method=gear reltol=1e-4"]
    saved = ".save v(g_left) v(xgate_left.in) i(v.xgate_left.vo)"
    table = run(folder, "\n".join([*deck, ".tran 0.5n 2u 0 0.5n uic", saved, ".end", ""]))
    return dict(zip(("time", "output", "input", "current"), table.T, strict=True))


def crossing(time: np.ndarray, samples: np.ndarray, level: float, start: float) -> float:
    """First passage of a level after `start` [s]."""
    k = np.flatnonzero((time[1:] > start) & ((samples[:-1] < level) != (samples[1:] < level)))[0]
    return float(np.interp(level, *zip(*sorted([(samples[k], time[k]), (samples[k + 1], time[k + 1])]), strict=True)))


def test_an_integrated_driver_switches_at_its_thresholds_after_its_delay(tmp_path: Path) -> None:
    found = on_the_bench(tmp_path, INTEGRATED, "cload g_left 0 10p")
    for start, level in ((0.5e-6, INTEGRATED.high), (1.5e-6, INTEGRATED.low)):
        asked = crossing(found["time"], found["input"], level, start)
        followed = crossing(found["time"], found["output"], 7.0, start)
        wanted = INTEGRATED.delay
        assert followed - asked == known(wanted, "integrated driver: delay", "its figure", CLOSED, unit="s", rel=0.15)


def test_an_input_that_creeps_turns_it_at_its_thresholds(tmp_path: Path) -> None:
    """8 V/us up and down: by then the input is the delay's 0.32 V further, and some more, as the comparator starts slowly."""
    ramp = "vdrain d_right 0 pwl(0 0 0.2u 0 1u 6.4 1.2u 6.4 2u 0)"
    found = on_the_bench(tmp_path, INTEGRATED, "cload g_left 0 10p", ramp)
    for start, level, way in ((0.2e-6, INTEGRATED.high, 1), (1.2e-6, INTEGRATED.low, -1)):
        turned = crossing(found["time"], found["output"], 7.0, start)
        beyond = way * (np.interp(turned, found["time"], found["input"]) - level)
        assert 0.0 < beyond < 3 * 8e6 * INTEGRATED.delay


def test_a_pulse_shorter_than_the_delay_gets_lost(tmp_path: Path) -> None:
    found = on_the_bench(
        tmp_path, INTEGRATED, "cload g_left 0 10p", "vdrain d_right 0 pwl(0 0 0.5u 0 0.501u 40 0.515u 40 0.516u 0)"
    )
    assert found["input"].max() > INTEGRATED.high
    assert found["output"].max() < 0.5


@pytest.mark.parametrize(("load", "out"), [("iload g_left 0 0.1", 14 - 0.2), ("iload 0 g_left 0.1", 14 + 0.2)])
def test_an_integrated_driver_has_its_output_resistance(tmp_path: Path, load: str, out: float) -> None:
    found = on_the_bench(tmp_path, INTEGRATED, load)
    assert np.interp(1.4e-6, found["time"], found["output"]) == known(
        out, f"integrated driver into {load}: output", "divider by hand", CLOSED, unit="V", abs=0.01
    )


def test_an_integrated_driver_gives_no_more_than_its_peak_current(tmp_path: Path) -> None:
    found = on_the_bench(tmp_path, INTEGRATED, "vload g_left 0 0")
    assert np.interp(1.4e-6, found["time"], found["current"]) == pytest.approx(3.0 * np.tanh(14 / (2.0 * 3.0)), rel=0.01)
    found = on_the_bench(tmp_path, INTEGRATED, "vload g_left 0 14")
    assert np.interp(0.4e-6, found["time"], found["current"]) == pytest.approx(-5.0 * np.tanh(14 / (1.0 * 5.0)), rel=0.01)


def test_a_totem_pole_follows_its_input_less_a_base_emitter_drop_and_divides_the_current_by_its_gain(tmp_path: Path) -> None:
    """Shockley: Vbe = Vt ln(I/Is) at 0.1 A and 27 °C, Is = 1e-13 A; the base takes I/(gain + 1), and some more at 0.1 of 4 A."""
    found = on_the_bench(tmp_path, TOTEM, "iload g_left 0 0.1")
    pin, out = (np.interp(1.4e-6, found["time"], found[name]) for name in ("input", "output"))
    drop = 0.025865 * np.log(0.1 / 1e-13)
    assert pin - out == pytest.approx(drop + 0.1 * TOTEM.source_resistance, abs=0.01)
    assert 14 - pin == pytest.approx(470 * 0.1 / 101, rel=0.05)
