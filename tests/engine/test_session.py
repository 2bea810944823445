# SPDX-License-Identifier: GPL-3.0-or-later
"""The traps of the shared library, one by one, and circuits whose answer is known in closed form."""

from __future__ import annotations

import ctypes.util
import subprocess
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from heatsim.engine.guard import DeckRefused
from heatsim.engine.session import Session, find_library, vector_name
from heatsim.errors import SetupError
from heatsim.netlist.deck import Deck
from heatsim.waves import Signal
from tests.support.engine.circuits import heater, ring_down, small

Python = Callable[..., "subprocess.CompletedProcess[str]"]

GOOD = "V1 a 0 SIN(0 10 50k)\nR1 a b 1k\nC1 b 0 1n\n"


def tiny(circuit: str = GOOD, node: str = "b") -> Deck:
    """A deck of 100 us on the RC circuit or another."""
    return small(circuit, {"x": f"v({node})"}, max_step=1e-6)


def test_ring_down_has_the_frequency_and_decay_of_the_closed_form(session: Session) -> None:
    """Series RLC, C charged: v = V e^(-a t) (cos wd t - (a/wd) sin wd t) + ..., a = R/2L, wd^2 = 1/LC - a^2 (any
    circuits text book; here from v = -L di/dt - R i with i(0) = 0).
    """
    inductance, capacitance, resistance, volts = 10e-6, 100e-9, 0.5, 10.0
    deck = ring_down(inductance, capacitance, resistance, volts, stop=1e-4, max_step=1e-8)
    session.load(deck)
    session.advance(None)
    got = session.vectors(deck.vectors)
    assert got is not None
    time, vectors = got
    decay = resistance / (2 * inductance)
    angular = np.sqrt(1 / (inductance * capacitance) - decay**2)
    exact = volts * np.exp(-decay * time) * (np.cos(angular * time) + decay / angular * np.sin(angular * time))
    assert np.abs(vectors["v(a)"] - exact).max() < 2e-3 * volts
    current = volts / (angular * inductance) * np.exp(-decay * time) * np.sin(angular * time)
    assert np.abs(vectors["i(l1)"] - current).max() < 2e-3 * np.abs(current).max()


def test_vector_names() -> None:
    assert [vector_name(v) for v in ("v(a)", "i(vs)", "i(l.x1.l2)", "@m1[id]")] == ["a", "vs#branch", "l.x1.l2#branch", "@m1[id]"]


def test_pauses_change_nothing(session: Session) -> None:
    deck = ring_down(stop=5e-5)
    session.load(deck)
    session.advance(None)
    straight = session.vectors(deck.vectors)
    session.load(deck)
    for to in (1e-5, 2e-5, 3e-5, None):
        session.advance(to)
    pieces = session.vectors(deck.vectors)
    assert straight is not None and pieces is not None
    assert session.reached == pytest.approx(5e-5, rel=1e-9)
    assert np.all(np.diff(pieces[0]) > 0)
    at = np.linspace(1e-6, 4.9e-5, 500)
    a, b = (np.interp(at, got[0], got[1]["v(a)"]) for got in (straight, pieces))
    assert np.abs(a - b).max() < 1e-3 * 10


def test_stops_where_told(session: Session) -> None:
    session.load(tiny())
    session.advance(3e-5)
    assert 3e-5 < session.reached <= 3.2e-5
    session.advance(6e-5, points=10)
    first = session.points
    session.advance(6e-5, points=10)
    assert session.points == pytest.approx(first + 10, abs=2)
    session.advance(6e-5)
    assert 6e-5 < session.reached <= 6.2e-5


def test_notes_on_stderr_are_no_failure(session: Session) -> None:
    """An unknown model parameter is ignored with a message on stderr, for which PySpice alone would raise."""
    session.load(tiny(GOOD + "D1 b 0 odd\n.model odd D(zork=1)\n"))
    session.advance(None)
    assert any("zork" in message for message in session.messages)
    assert session.reached == pytest.approx(1e-4, rel=1e-6)
    assert session.cause == ""


@pytest.mark.parametrize("bad", ["X1 a b nosub", "D1 a b nomod", "B1 c 0 V=v(a)*(", "R2 a b abc"])
def test_a_deck_that_cannot_be_read_does_not_run_the_one_before(session: Session, bad: str) -> None:
    session.load(tiny())
    session.advance(None)
    assert session.reached > 0
    session.load(tiny(GOOD + bad + "\n"))
    assert session.reached == 0
    session.advance(None)
    assert (session.reached, session.began) == (0, False)
    assert session.vectors(("v(b)",)) is None
    assert session.cause


def test_without_our_care_the_circuit_before_would_run(session: Session) -> None:
    """The trap itself: PySpice loads a faulty deck without a word and runs the old one."""
    session.load(tiny())
    session._ngspice.load_circuit("* other\nV1 a 0 1\nX1 a b nosub\n.tran 1u 1m uic\n.end\n")
    session.advance(None)
    assert session.reached == pytest.approx(1e-4, rel=1e-6)


def test_another_circuit_than_ours_is_noticed_by_its_title(session: Session) -> None:
    session.load(tiny())
    session._ngspice.load_circuit("* other\nV1 a 0 1\nR1 a b 1k\nC1 b 0 1n\n.tran 1u 1m uic\n.end\n")
    session.advance(None)
    assert (session.reached, session.vectors(("v(b)",))) == (0.0, None)
    assert "another circuit" in session.cause


def test_a_refused_deck_leaves_nothing_of_the_one_before(session: Session) -> None:
    session.load(tiny())
    session.advance(None)
    with pytest.raises(DeckRefused):
        session.load(tiny(GOOD + ".control\nshell touch pwned\n.endc\n"))
    assert session.reached == 0


def test_measures_are_left_to_the_plain_program(session: Session) -> None:
    """They would be evaluated at every pause."""
    session.load(replace(tiny(), measures=".meas tran zenith max v(b)"))
    session.advance(5e-5)
    session.advance(None)
    assert not any("zenith" in message for message in session.messages)
    assert session.cause == ""


def test_vectors_that_are_not_there_are_named(session: Session) -> None:
    session.load(tiny(node="b"))
    session.advance(None)
    assert session.missing(("v(b)", "v(nowhere)", "i(v1)")) == ("v(nowhere)", "i(v1)")
    assert session.vectors(("v(b)", "v(nowhere)")) is None


def test_repeated_instants_are_dropped_and_samples_end_where_they_stop_being_finite(
    session: Session, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = {"time": np.array([0.0, 1, 1, 2, 1.5, 3, 4]), "x": np.array([0.0, 1, 9, 2, 9, 3, np.nan])}
    monkeypatch.setattr(session, "_vector", made.get)
    got = session.vectors(("v(x)",))
    assert got is not None
    assert got[0].tolist() == [0, 1, 2, 3]
    assert got[1]["v(x)"].tolist() == [0, 1, 2, 3]


def test_looking_at_the_time_copies_nothing(session: Session) -> None:
    session.load(heater().lasting(1e-4))
    session.advance(None)
    assert not session._vector("time").flags.owndata


def test_messages_of_one_run_are_bounded(session: Session) -> None:
    session.load(tiny())
    for k in range(5000):
        session.heard(f"note {k}")
    assert len(session.messages) <= 2000
    assert session.messages[-1] == "note 4999"
    assert "note 0" in session.messages


def test_signals_add_up_their_vectors(session: Session) -> None:
    from heatsim.engine.simulate import combine

    both = Signal("sum", "V", ((2.0, "v(a)"), (-0.5, "v(b)")))
    waves = combine([both], np.array([0.0, 1.0]), {"v(a)": np.array([1.0, 2.0]), "v(b)": np.array([4.0, 8.0])}, "test")
    assert waves["sum"].tolist() == [0.0, 0.0]
    assert waves.units["sum"] == "V"


def test_library_by_environment_then_by_the_system(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("NGSPICE_LIBRARY_PATH", "/somewhere/libngspice.so.7")
    assert find_library() == "/somewhere/libngspice.so.7"
    monkeypatch.delenv("NGSPICE_LIBRARY_PATH")
    monkeypatch.setattr(ctypes.util, "find_library", lambda name: f"lib{name}.so.0")
    assert find_library() == "libngspice.so.0"


def test_a_missing_library_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("NGSPICE_LIBRARY_PATH", raising=False)
    monkeypatch.setattr(ctypes.util, "find_library", lambda name: None)
    with pytest.raises(SetupError, match="apt install libngspice0"):
        find_library()


def test_importing_the_engine_loads_no_simulator(python: Python) -> None:
    done = python(
        "import sys, heatsim.engine\nprint([m for m in ('PySpice', 'cffi', 'scipy', 'pebble', 'matplotlib') if m in sys.modules])"
    )
    assert done.stdout.strip() == "[]", done.stderr


def test_a_process_has_one_session(python: Python) -> None:
    """A second one would take the library's reports away from the first."""
    done = python(
        "from heatsim.engine.session import Session\n"
        "from tests.engine.test_session import GOOD, tiny\n"
        "s = Session()\n"
        "try:\n    Session()\n"
        "except RuntimeError as error:\n    print(error)\n"
        "s.load(tiny()); s.advance(None)\n"
        "print(s.reached > 0)\n"
    )
    assert done.stdout.splitlines() == ["this process has a simulator already: heatsim.engine.worker.simulator gives it", "True"], (
        done.stderr
    )


def test_undefined_parameter_poisons_the_process_and_is_noticed(python: Python) -> None:
    done = python(
        "from heatsim.engine.session import Session\n"
        "from tests.engine.test_session import GOOD, tiny\n"
        "s = Session()\n"
        "s.load(tiny(GOOD + 'R2 a b {foo}\\n')); s.advance(None)\n"
        "print(s.poisoned, s.reached, s.cause)\n"
        "s.load(tiny()); s.advance(None)\n"
        "print(s.reached)\n"
    )
    assert done.stdout.splitlines() == ["True 0.0 a parameter is not defined: foo", "0.0"], done.stderr


def test_start_up_files_in_the_working_folder_are_obeyed_by_a_bare_session(python: Python, tmp_path: Path) -> None:
    """The trap itself, against which workers are isolated (see test_pool)."""
    (tmp_path / ".spiceinit").write_text("shell touch obeyed\n")
    python("from heatsim.engine.session import Session\nSession()\n")
    assert (tmp_path / "obeyed").exists()
