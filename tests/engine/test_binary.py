# SPDX-License-Identifier: GPL-3.0-or-later
"""The shared session and the plain program agree; the raw file is read as it was written."""

from __future__ import annotations

import shutil
import struct
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from heatsim.engine.guard import DeckRefused
from heatsim.engine.session import Session
from heatsim.engine.settle import rising_zeros
from heatsim.engine.simulate import simulate
from heatsim.errors import SetupError
from heatsim.waves.periods import per_period
from tests.engine.test_session import GOOD
from tests.engine.test_simulate import COLLAPSING
from tests.support.engine.binary import BinaryFailed, read_raw, run_binary
from tests.support.engine.circuits import heater, ring_down, small

plain = pytest.mark.skipif(shutil.which("ngspice") is None, reason="needs the plain ngspice program")


def write_raw(path: Path, names: list[str], rows: list[list[float]], flags: str = "real", announced: int | None = None) -> Path:
    """A raw file as the manual describes it."""
    kinds = ["time", *["voltage"] * (len(names) - 1)]
    head = (
        f"Title: * x\nDate: now\nPlotname: Transient Analysis\nFlags: {flags}\nNo. Variables: {len(names)}\n"
        f"No. Points: {announced or len(rows)}\nVariables:\n"
    )
    lines = "".join(f"\t{k}\t{name}\t{kind}\n" for k, (name, kind) in enumerate(zip(names, kinds, strict=True)))
    path.write_bytes((head + lines).encode() + b"Binary:\n" + b"".join(struct.pack(f"<{len(r)}d", *r) for r in rows))
    return path


def test_reads_what_the_manual_describes(tmp_path: Path) -> None:
    raw = read_raw(write_raw(tmp_path / "a.raw", ["time", "v(A)", "i(vs)"], [[0, 1, 2], [1e-6, -1.5, 2.25]]))
    assert (raw.title, raw.plot) == ("* x", "Transient Analysis")
    assert {name: x.tolist() for name, x in raw.vectors.items()} == {"time": [0, 1e-6], "v(a)": [1, -1.5], "i(vs)": [2, 2.25]}


def test_refuses_what_it_cannot_read(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="holds less"):
        read_raw(write_raw(tmp_path / "a.raw", ["time", "v(a)"], [[0, 1]], announced=2))
    with pytest.raises(ValueError, match="complex"):
        read_raw(write_raw(tmp_path / "b.raw", ["time", "v(a)"], [[0, 1]], flags="complex"))
    (tmp_path / "c.raw").write_text("Title: x\n")
    with pytest.raises(ValueError, match="no binary section"):
        read_raw(tmp_path / "c.raw")


@plain
@pytest.mark.ngspice
def test_a_ring_down_is_the_same_to_the_point(session: Session) -> None:
    """No pauses before the end, so both take the very same steps."""
    deck = ring_down(stop=1e-4)
    session.load(deck)
    session.advance(None)
    got = session.vectors(deck.vectors)
    waves = run_binary(deck)
    assert got is not None
    assert waves.time.size == got[0].size
    assert np.array_equal(waves.time, got[0])
    assert np.array_equal(waves["ring.voltage"], got[1]["v(a)"])
    assert np.array_equal(waves["ring.current"], got[1]["i(l1)"])


@plain
@pytest.mark.ngspice
def test_a_settled_heater_is_the_same_in_all_that_matters(session: Session) -> None:
    run = simulate(session, heater(), 60)
    assert run.waveforms is not None
    other = run_binary(run.deck)
    assert other.names == run.waveforms.names
    assert other.time[-1] == pytest.approx(run.deck.transient.stop, rel=1e-6)
    marks = [rising_zeros(waves.time, waves["tank.voltage"])[-31:] for waves in (run.waveforms, other)]
    assert np.diff(marks[0]).mean() == pytest.approx(np.diff(marks[1]).mean(), rel=2e-5)
    for name in other.names:
        a, b = (per_period(w.time, w[name], m) for w, m in zip((run.waveforms, other), marks, strict=True))
        scale = abs(b.mean).mean() + b.swing.mean()
        assert abs(a.mean.mean() - b.mean.mean()) < 1e-3 * scale, name
        assert abs(a.swing.mean() - b.swing.mean()) < 2e-3 * scale, name


@plain
@pytest.mark.ngspice
def test_a_run_that_stops_early_fails_with_its_cause() -> None:
    with pytest.raises(BinaryFailed, match="time step became too small at 1.6766"):
        run_binary(small(COLLAPSING, {"x": "v(a)"}, max_step=1e-6))


@plain
@pytest.mark.ngspice
def test_faulty_decks_and_missing_vectors_fail_with_their_cause() -> None:
    with pytest.raises(BinaryFailed, match="nosub"):
        run_binary(small(GOOD + "X1 a b nosub\n", {"x": "v(b)"}))
    with pytest.raises(BinaryFailed, match="nowhere"):
        run_binary(small(GOOD, {"x": "v(b)", "y": "v(nowhere)"}))


@plain
@pytest.mark.ngspice
def test_too_late_is_a_failure() -> None:
    with pytest.raises(BinaryFailed, match="not done after"):
        run_binary(heater().lasting(1.0), time_limit=0.3)


def test_refuses_hostile_decks() -> None:
    with pytest.raises(DeckRefused):
        run_binary(replace(heater(), circuit=heater().circuit + "*# shell touch x\n"))


def test_a_missing_program_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(shutil, "which", lambda name: None)
    with pytest.raises(SetupError, match="apt install ngspice"):
        run_binary(heater())
