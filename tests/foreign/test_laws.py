# SPDX-License-Identifier: GPL-3.0-or-later
"""Foreign parts: every law's slopes are its own, every family meets the datasheet and the meter, and nothing here knows heatsim.

Slopes are held against central differences; what is met are the figures of the scenario file (our own, invented).
"""

from __future__ import annotations

import ast
import re
from pathlib import Path

import numpy as np
import pytest
from scipy.integrate import quad

from tests.support import foreign
from tests.support.foreign import laws, parts
from tests.support.foreign.nominal import number, read

FOLDER = Path(foreign.__file__).parent
BENCH = read(FOLDER.parents[2] / "scenarios" / "bench-heater.toml")
HEATERS = [parts.sound(BENCH, family, np.random.default_rng(k)) for k, family in enumerate(parts.FAMILIES)]


def test_nothing_here_imports_heatsim_or_the_other_makers() -> None:
    barred = ("heatsim", "tests.support.captures", "tests.support.independent")
    files = sorted(FOLDER.glob("*.py"))
    assert len(files) > 4
    for path in files:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
            names += [f"{node.module}.{alias.name}" for alias in node.names] if isinstance(node, ast.ImportFrom) else []
            wrong = [name for name in names for bar in barred if re.match(rf"{re.escape(bar)}(\.|$)", name)]
            assert not wrong, f"{path.name}:{getattr(node, 'lineno', 0)} {wrong}"


@pytest.mark.parametrize(
    "text, value", [("4.2 nF", 4.2e-9), ("20 mohm", 0.02), ("0.06 %", 6e-4), ("107 mm2", 1.07e-4), ("470 uF", 4.7e-4)]
)
def test_quantities_are_read(text: str, value: float) -> None:
    assert number(text) == pytest.approx(value, rel=1e-12)


def test_an_unknown_unit_is_refused() -> None:
    with pytest.raises(ValueError, match="unknown unit"):
        number("3 furlong")


def one(value: float) -> np.ndarray:
    return np.array([value])


def current(heater: parts.Heater, over: float, v: float) -> tuple[float, float, float]:
    """Of one device at a voltage above its own threshold parameter."""
    numbers = (one(getattr(heater, key)) for key in ("strength", "bend", "body", "thermal"))
    found = laws.CHANNELS[heater.device](one(over), one(v), *numbers)
    return tuple(float(each[0]) for each in found)  # type: ignore[return-value]


@pytest.mark.parametrize("heater", HEATERS[:3], ids=lambda h: h.device)
@pytest.mark.parametrize("over", [-0.5, 0.07, 1.5, 8.0])
@pytest.mark.parametrize("v", [-1.0, -0.01, 0.02, 1.0, 60.0])
def test_slopes_of_channels_are_their_differences(heater: parts.Heater, over: float, v: float) -> None:
    step = 1e-6
    _, by_gate, by_drain = current(heater, over, v)
    size = 1e-5 * max(abs(by_gate), abs(by_drain)) + 1e-6
    assert (current(heater, over + step, v)[0] - current(heater, over - step, v)[0]) / (2 * step) == pytest.approx(
        by_gate, abs=size
    )
    assert (current(heater, over, v + step)[0] - current(heater, over, v - step)[0]) / (2 * step) == pytest.approx(
        by_drain, abs=size
    )


@pytest.mark.parametrize("heater", HEATERS, ids=lambda h: f"{h.device}, {h.choke}")
def test_a_family_meets_the_datasheet(heater: parts.Heater) -> None:
    """On resistance within 8 % and transconductance within 6 % are the spread; 6 % and 3 % more are the law's own."""
    middle = sum(heater.threshold) / 2
    own = middle - BENCH.threshold
    on = current(heater, BENCH.on_gate_voltage - BENCH.threshold - own, 0.01)[0] / 0.01
    assert 1 / on == pytest.approx(BENCH.on_resistance, rel=0.14)
    over = np.linspace(0.3, 3.0, 2701)
    curve = np.array([current(heater, u, 20.0)[0] for u in over[::30]])
    slope = np.interp(BENCH.transconductance_current, curve, np.gradient(curve, over[::30]))
    assert slope == pytest.approx(BENCH.transconductance, rel=0.1)


@pytest.mark.parametrize("heater", HEATERS, ids=lambda h: f"{h.device}, {h.choke}")
def test_capacitances_meet_their_figures(heater: parts.Heater) -> None:
    """Within the 6 % of the spread, on reverse capacitance twice: it is part of two of the figures. Charge: what a gate-charge test
    at 40 A would count, the gate on 3.6 V + 80 A/70 S while the drain falls from 100 V to 0.64 V."""
    at, plateau = BENCH.capacitance_voltage, 3.6 + 80 / 70
    _, crss = (float(x) for x in laws.charge(np.array(at), np.array(heater.gate_drain)))
    total, _ = quad(
        lambda v: float(laws.charge(np.array(v), np.array(heater.gate_drain))[1]), 0.64 - plateau, 100 - plateau, limit=200
    )
    _, own = (float(x) for x in laws.charge(np.array(at), np.array(heater.drain_source)))
    assert total == pytest.approx(BENCH.gate_drain_charge, rel=0.061)
    assert crss == pytest.approx(BENCH.reverse_capacitance, rel=0.061)
    assert own + crss == pytest.approx(BENCH.output_capacitance, rel=0.062)
    assert heater.gate_source + crss == pytest.approx(BENCH.input_capacitance, rel=0.062)


@pytest.mark.parametrize("heater", HEATERS[:3], ids=lambda h: h.device)
@pytest.mark.parametrize("name", ["gate_drain", "drain_source"])
def test_charge_is_the_integral_of_capacitance(heater: parts.Heater, name: str) -> None:
    law = np.array(getattr(heater, name))
    for v in (-14.0, 9.0, 120.0):
        area = quad(lambda u: float(laws.charge(np.array(u), law)[1]), 0, v, points=[v / 9], limit=400)[0]
        assert float(laws.charge(np.array(v), law)[0]) == pytest.approx(area, rel=1e-6)
        assert float(laws.charge(np.array(v), law)[1]) > 0


@pytest.mark.parametrize("heater", HEATERS[:4], ids=lambda h: h.choke)
def test_flux_is_the_integral_of_inductance(heater: parts.Heater) -> None:
    numbers = [one(pair[0]) for pair in (heater.zero, heater.air, heater.at, heater.power)]
    law = laws.FLUXES[heater.choke]
    for i in (-30.0, 5.0, 80.0):
        area = quad(lambda u: float(law(one(u), *numbers)[1][0]), 0, i)[0]
        assert float(law(one(i), *numbers)[0][0]) == pytest.approx(area, rel=1e-7)


@pytest.mark.parametrize("heater", HEATERS, ids=lambda h: h.choke)
def test_chokes_keep_what_the_powder_keeps_at_the_mean_current(heater: parts.Heater) -> None:
    """86 % there by the powder's own curve; 2 % of spread, and 5 % on the current."""
    numbers = [one(pair[0]) for pair in (heater.zero, heater.air, heater.at, heater.power)]
    left = float(laws.FLUXES[heater.choke](one(BENCH.choke_current), *numbers)[1][0]) / heater.zero[0]
    plain = 1 / (1 + (BENCH.choke_current / BENCH.choke_half_current) ** 1.86)
    assert 0.84 < plain < 0.88 and left == pytest.approx(plain, abs=0.035)


@pytest.mark.parametrize("heater", HEATERS, ids=lambda h: h.choke)
def test_the_meter_sees_the_coil_as_stated(heater: parts.Heater) -> None:
    seen = parts.impedance(heater, 100e3)
    assert seen.imag / (2 * np.pi * 100e3) == pytest.approx(BENCH.work_inductance, rel=0.021)
    assert seen.real == pytest.approx(BENCH.work_resistance, rel=0.15)


def test_a_ladder_goes_with_the_square_root_of_frequency() -> None:
    """Of a thick conductor (Wheeler, Proc. IRE 30, 1942, p. 412; memory); three cells come within 20 % of it over this decade."""
    skin = next(heater for heater, family in zip(HEATERS, parts.FAMILIES, strict=True) if family.coil == "skin")
    low, high = (parts.impedance(skin, f).real - skin.coil_ohms for f in (100e3, 1e6))
    assert high / low == pytest.approx(np.sqrt(10), rel=0.2)
