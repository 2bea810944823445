# SPDX-License-Identifier: GPL-3.0-or-later
"""Whole circuits by ngspice on heatsim's own deck and by an integration apart from it.

What they hold: `tests.support.independent`.

Allowed of a start from rest: 0.2 % of frequency, 1 % of the others, 1.8 % of the switches' peaks and 2 % of capacitors along bars
(`agreement` says why); of a periodic state half as much: 0.1 % of frequency, 0.5 % of tank and drain peaks, of coil and supply
current, 1 % of the chokes' peaks. Seen: 0.03 % of frequency, 0.1 % of tank, drains and supply, 0.3 % of the chokes' peaks, whose
difference is the last to come to rest.
"""

from __future__ import annotations

import re
from functools import cache

import pytest

from heatsim.engine.session import Session
from heatsim.measures.errors import ROUNDING
from heatsim.netlist.library import library_folder
from heatsim.studies.check import case_deck
from tests.support.book import INDEPENDENT, Known, known
from tests.support.independent import __main__ as command
from tests.support.independent.agreement import (
    ALLOWED,
    FOLLOWED,
    SPIKES,
    Both,
    allowed,
    by_integration,
    by_simulation,
    found_from_cold,
    read,
    unit,
)
from tests.support.independent.drawn import Drawn
from tests.support.independent.elements import ELEMENTS, ELSEWHERE, elements_of
from tests.support.independent.random_circuits import drawn
from tests.support.independent.whole_circuits import FIXED, rails
from tests.support.independent.whole_circuits import QUICK as WIRED
from tests.support.layers import quick_of

CIRCUITS = {each.name: each for each in FIXED}
QUICK = ("one choke", "a model of one's own, three a side, soft chokes")
FOLLOWING = [name for name in CIRCUITS if name.startswith(("one choke", "hysteresis", "nothing in the coil"))]
"""Those whose periodic state is looked for; where supply or drivers differ, a search begins and ends as a start from rest does."""


@cache
def integrated(name: str) -> dict[str, float]:
    """Numbers of a fixed circuit by the independent integration."""
    return by_integration(CIRCUITS[name])


def by_nodes(name: str, what: str, rel: float, way: str) -> Known:
    """A number of the other way."""
    source = "node voltages from the values of the parts, TR-BDF2 and Newton's rule on a period"
    return known(integrated(name)[what], f"{name}, {way}: {what}", source, INDEPENDENT, unit=unit(what), rel=rel)


def test_every_element_is_in_a_fixed_circuit() -> None:
    held = set().union(*(elements_of(each.heater, each.scenario) for each in FIXED))
    assert held == set(ELEMENTS)


def test_every_subcircuit_of_the_library_is_in_a_fixed_circuit() -> None:
    """Or compared elsewhere: a new one must come into the equations."""
    files = library_folder().glob("*.lib")
    library = {name for file in files for name in re.findall(r"^\.subckt (\w+)", file.read_text("utf-8"), re.MULTILINE)}
    decks = {
        name for each in FIXED for name in re.findall(r"^\.subckt (\w+)", case_deck(each.scenario, each.case).text, re.MULTILINE)
    }
    missing = {name for name in library if not any(held in (name, f"{name}_left", f"{name}_right") for held in decks)}
    assert missing == set(ELSEWHERE)


@pytest.mark.parametrize("name", quick_of(CIRCUITS, *QUICK))
def test_both_ways_agree(name: str) -> None:
    simulated, outcome = by_simulation(CIRCUITS[name])
    assert outcome == "settled"
    assert set(simulated) == set(integrated(name)) and len(simulated) >= 8
    apart = ", ".join(f"{what} {100 * (simulated[what] / value - 1):+.3f} %" for what, value in integrated(name).items())
    for what in simulated:
        assert simulated[what] == by_nodes(name, what, allowed(what), "from rest"), apart


@pytest.mark.slow
@pytest.mark.ngspice
@pytest.mark.parametrize("name", FOLLOWING)
def test_a_periodic_state_is_the_other_ways(session: Session, name: str) -> None:
    """The switches' spikes are left to the start from rest."""
    waves = found_from_cold(session, CIRCUITS[name].heater).waveforms
    found = read(waves.time, waves.signals, 1)
    compared = [what for what in integrated(name) if not what.startswith(("switch", "capacitor"))]
    apart = ", ".join(f"{what} {100 * (found[what] / integrated(name)[what] - 1):+.3f} %" for what in compared)
    assert len(compared) >= 6
    for what in compared:
        assert found[what] == by_nodes(name, what, FOLLOWED.get(what, 0.01), "periodic state"), apart


@pytest.mark.slow
def test_drains_elsewhere_than_the_coil_are_off_by_what_the_caution_says() -> None:
    """Heatsim simulates a bank along bars in one piece: five segments of 8 nH between drains and coil are not in its circuit. Its
    currents come out too high by no more than their share of the tank's inductance."""
    far = Drawn("drains at the far end", WIRED | rails(6, 8e-9, 15e-9, "same end", "far end"))
    simulated, outcome = by_simulation(far)
    true = by_integration(far)
    assert outcome == "settled"
    share = 5 * 8e-9 / far.heater.tank_inductance
    for what in ("supply mean", "coil rms", "choke left peak"):
        assert 0.3 * share < simulated[what] / true[what] - 1 < share, what
    assert -0.04 < simulated["drain left peak"] / true["drain left peak"] - 1 < -0.02


def test_a_random_circuit_is_the_same_on_every_run_and_another_for_each_number() -> None:
    assert drawn(3) == drawn(3)
    assert len({str(drawn(k).fields) for k in range(20)}) == 20


def test_every_element_is_in_some_random_circuit() -> None:
    """And each can be built; a model of one's own comes with its law."""
    some = [drawn(k) for k in range(120)]
    assert set().union(*(elements_of(each.heater, each.scenario) for each in some)) == set(ELEMENTS)
    assert all((each.own is None) == (not each.heater.switch.user_model) for each in some)


@pytest.mark.parametrize(("apart", "code"), [(0.0019, 0), (0.0021, 1)])
def test_the_command_tells_what_is_beyond(
    apart: float, code: int, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture
) -> None:
    """And a circuit that does not come to rest is told and counted, not judged."""
    steps = {"frequency": (apart, 1e-3)} if code else {}
    compared = Both(FIXED[0], {"frequency": 1 + apart}, {"frequency": 1.0}, steps=steps)
    results = iter([compared, Both(FIXED[1], told="ngspice: drifting")])
    monkeypatch.setattr(command, "both", lambda _: next(results))
    assert command.main(["2"]) == code
    told = capsys.readouterr().out
    assert f"+{100 * apart:.3f}" in told and ("BEYOND" in told) == bool(code)
    assert ("frequency: +0.2 %, at finer steps +0.1 %" in told) == bool(code)
    assert "not compared; ngspice: drifting" in told and "1 of 2 circuits compared" in told


def test_of_spikes_no_more_is_allowed_than_heatsim_states_for_them() -> None:
    assert all(allowed(what) == ALLOWED["switch"] <= ROUNDING["switch.*.peak_current_a"][0] for what in SPIKES)
