# SPDX-License-Identifier: GPL-3.0-or-later
"""Channels told by their shape."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from heatsim.errors import InputError
from heatsim.scenario.scenario import Scenario
from heatsim.studies.match.captures import CaptureRequest, read
from heatsim.studies.match.channels import assign, looks
from heatsim.waves.capture import Probe, read_capture

ROOT = Path(__file__).resolve().parents[3]
BENCH = Scenario.from_file(ROOT / "scenarios" / "bench-heater.toml")
DEMO = ROOT / "scenarios" / "captures" / "distorted.csv"


def test_signals_are_told_by_shape() -> None:
    found, notes = assign(read_capture(DEMO), BENCH, "loaded", {})
    assert found == {"CH1": "tank.voltage", "CH2": "drain.left.voltage"}
    assert len(notes) == 2


def test_the_tank_is_the_widest_that_alternates_in_any_order(tmp_path: Path) -> None:
    """Drains, a drain without its mean and a current before the tank: taken for what they are, or left out with a word."""
    phase = 2 * math.pi * 85e3 * np.arange(4000) * 4e-8
    half = np.maximum(np.sin(phase), 0.0)
    path = tmp_path / "scope.npz"
    np.savez(
        path,
        time=np.arange(4000) * 4e-8,
        a=131 * half - 131 / math.pi,
        b=131 * np.maximum(-np.sin(phase), 0.0),
        c=131 * half,
        d=131 * np.sin(phase),
        e=60 * np.cos(phase),
    )
    found, notes = assign(read_capture(path), BENCH, "loaded", {})
    assert found == {"d": "tank.voltage", "b": "drain.right.voltage", "c": "drain.left.voltage"}
    assert sum("alternates about zero too" in note for note in notes) == 2


def running(time: np.ndarray, supply: float = 42.0) -> dict[str, np.ndarray]:
    """Ideal two-choke stage at 85 kHz: half sines at the drains, gates against them, chokes whose voltage is what the supply is
    above the drain."""
    phase = 2 * math.pi * 85e3 * time
    left, right = (math.pi * supply * np.maximum(sign * np.sin(phase), 0.0) for sign in (1, -1))
    ripple = [np.cumsum(supply - drain) * (time[1] - time[0]) / 50e-6 for drain in (left, right)]
    currents = [12.0 + each - each.mean() for each in ripple]
    gates = [np.where(drain > 0, 0.4, 11.8) for drain in (left, right)]
    total = 24.0 + 0.3 * np.cos(2 * phase)
    return dict(zip("tlr", (left - right, left, right), strict=True)) | {
        "gl": gates[0], "gr": gates[1], "cl": currents[0], "cr": currents[1], "s": total, "coil": 60 * np.cos(phase)
    }  # fmt: skip


def test_gates_and_choke_currents_are_told_by_what_the_tank_does(tmp_path: Path) -> None:
    """The supply's current and the coil's are not: they are left out with a word."""
    waves = running(np.arange(4000) * 4e-8)
    named = {"t": "V", "gr": "V", "gl": "V", "cr": "A", "cl": "A", "s": "A", "coil": "A"}
    path = tmp_path / "scope.csv"
    rows = np.column_stack([np.arange(4000) * 4e-8, *(waves[name] for name in named)])
    head = ",".join(["time [s]", *(f"{name} [{unit}]" for name, unit in named.items())])
    path.write_text("\n".join([head, *(",".join(f"{x:.9g}" for x in row) for row in rows)]))
    found, notes = assign(read_capture(path), BENCH, "loaded", {})
    assert found == {
        "t": "tank.voltage",
        "gr": "gate.right.voltage",
        "gl": "gate.left.voltage",
        "cr": "choke.right.current",
        "cl": "choke.left.current",
    }
    assert [note.split(" ")[0] for note in notes if "left out" in note] == ["s", "coil"]


def test_a_choke_current_alone_is_read(tmp_path: Path) -> None:
    time = np.arange(4000) * 4e-8
    path = tmp_path / "scope.npz"
    np.savez(path, time=time, c=running(time)["cl"] + np.random.default_rng(2).normal(0, 0.01, time.size))
    found = read(BENCH, CaptureRequest(path, "loaded", None, {"c": "choke.left.current"}))
    assert found.record.frequency.value == pytest.approx(85e3, rel=1e-4)
    assert found.observation.layout.reference == "choke.left.current"
    assert found.observation.layout.sizes["choke.left.current"][0] > 3


def test_stated_signals_win_and_wrong_ones_are_named() -> None:
    capture = read_capture(DEMO)
    assert assign(capture, BENCH, "loaded", {"2": "drain.right.voltage"})[0] == {"CH2": "drain.right.voltage"}
    with pytest.raises(InputError, match=r"did you mean tank\.voltage"):
        assign(capture, BENCH, "loaded", {"CH1": "tank.volt"})
    with pytest.raises(InputError, match="CH7"):
        assign(capture, BENCH, "loaded", {"CH7": "tank.voltage"})


def test_a_forgotten_probe_factor_is_asked_about() -> None:
    capture = read_capture(DEMO, stated={"CH1": Probe(0.1)})
    assert any("probe's factor" in note for note in looks(capture, {"CH1": "tank.voltage"}, 42.0))
    assert not any("probe's factor" in note for note in looks(read_capture(DEMO), {"CH1": "tank.voltage"}, 42.0))


def cut(folder: Path, periods: float, first: int = 0, drain_only: bool = False) -> CaptureRequest:
    """A piece of the demo's capture, from a sample on; its tank oscillates at 95.613 kHz (the whole record's own)."""
    rows = DEMO.read_text().splitlines()
    begin = rows.index("s,V,V") + 1
    path = folder / "cut.csv"
    path.write_text("\n".join([*rows[:begin], *rows[begin + first : begin + first + round(periods / 95_613 / 4e-8)], ""]))
    return CaptureRequest(path, "loaded", None, {"CH2": "drain.left.voltage"} if drain_only else {})


@pytest.mark.parametrize("first", [0, 170, 1333])
@pytest.mark.parametrize("periods", [1.02, 1.5, 2.05])
def test_a_little_more_than_a_period_is_read(tmp_path: Path, periods: float, first: int) -> None:
    """Frequency and lines are those of the whole capture within the errors told, and a note says what cannot be judged."""
    found, whole = read(BENCH, cut(tmp_path, periods, first)), read(BENCH, CaptureRequest(DEMO, "loaded"))
    assert found.record.signals == whole.record.signals
    assert found.record.periods == pytest.approx(periods, rel=0.01)
    frequency = found.record.frequency
    assert frequency.error is not None and abs(frequency.value - whole.record.frequency.value) < 3 * frequency.error
    scores = []
    for name, lines in found.observation.lines.lines.items():
        off, error = lines - whole.observation.lines.lines[name], found.observation.lines.errors(name)
        scores += [*(off[2:].real / error[2:].real), *(off[2:].imag / error[2:].imag)]
    assert 0.88 < float(np.mean(np.abs(scores) < 1.96)) <= 1.0
    assert found.record.ripple is None
    assert any("rippling or drifting amplitude cannot be judged" in note for note in found.record.notes)
    assert not any("cannot be judged" in note for note in whole.record.notes)
    observation = found.observation
    assert observation.together.shape == (3, observation.vector.size) and not whole.observation.together.size
    assert observation.error[0] == pytest.approx(frequency.error / frequency.value, rel=1e-3)


@pytest.mark.parametrize("periods, said", [(0.3, "one or less"), (0.8, "about 0."), (0.97, "")])
def test_less_than_a_period_is_refused_with_what_is_needed(tmp_path: Path, periods: float, said: str) -> None:
    with pytest.raises(InputError, match="does not hold a whole period") as told:
        read(BENCH, cut(tmp_path, periods))
    assert said in str(told.value) and "a little more than a period" in str(told.value)


def test_a_drain_that_repeats_only_its_rest_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="repeats itself only where the drain rests"):
        read(BENCH, cut(tmp_path, 1.05, 100, drain_only=True))
    assert read(BENCH, cut(tmp_path, 1.5, 100, drain_only=True)).record.periods == pytest.approx(1.5, rel=0.01)
