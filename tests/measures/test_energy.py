# SPDX-License-Identifier: GPL-3.0-or-later
"""The balance closes for circuits solved by hand, and shows what is left out of the books."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from heatsim.measures import energy as en
from heatsim.waves import Capacitive, Inductive, Ledger, Magnetic, Ohmic, Product, Resistive, Waveforms
from tests.support.book import CLOSED, known, listed
from tests.support.references import INV_EXAMPLE
from tests.support.shapes import Stage, rlc_ring, uneven_time

R, L, C = 2.0, 1e-3, 10e-6

RLC = Ledger(
    sources=(Product("source", (("e", "i"),)),),
    losses=(
        Resistive("wire", "i", 0.25 * R),
        Resistive("wire", "i", 0.25 * R),
        Ohmic("load", "vr", R, 0.25),
        Product("box", (("half", "i"), ("half", "i"))),
    ),
    stores=(Inductive(("i",), ((L,),)), Capacitive("vc", C)),
)
"""R in four quarters: two wires booked by current, a load booked by R's voltage with a count of 1/4, a box by products.
The signals are those of `driven`."""


def driven(frequency: float, stop: float, points: int = 20_000) -> Waveforms:
    """Series RLC on a sine of 10 V in its steady state (phasors); `half` is an eighth of the drop on R."""
    time = uneven_time(stop, points)
    omega = 2 * np.pi * frequency
    current = 10.0 / (R + 1j * omega * L + 1 / (1j * omega * C))
    rotating = np.exp(1j * omega * time)
    signals = {
        "e": 10.0 * rotating.real,
        "i": (current * rotating).real,
        "vr": (R * current * rotating).real,
        "vc": (current / (1j * omega * C) * rotating).real,
        "half": (R / 8 * current * rotating).real,
    }
    return Waveforms(time, signals)


@pytest.mark.parametrize("stop", [1e-3, 3.7e-3, 10e-3])
def test_driven_rlc(stop: float) -> None:
    """Over any piece of time; what the wires take over whole periods is R I^2/2 by phasors."""
    found = en.balance(driven(1000.0, stop), RLC)
    assert found.imbalance_ratio == pytest.approx(0.0, abs=1e-5)
    current = 10.0 / abs(R + 2j * np.pi * 1000.0 * L + 1 / (2j * np.pi * 1000.0 * C))
    if stop == 1e-3:
        assert found.losses == {
            name: pytest.approx(share * R * current**2 / 2, rel=1e-4)
            for name, share in {"wire": 0.5, "load": 0.25, "box": 0.25}.items()
        }
        assert found.stored == pytest.approx(0.0, abs=1e-4 * found.supplied)


def test_forgotten_loss_is_as_large_as_it_was() -> None:
    books = Ledger(RLC.sources, RLC.losses[1:], RLC.stores)
    assert en.balance(driven(1000.0, 1e-3), books).imbalance_ratio == pytest.approx(0.25, rel=1e-4)
    stores = Ledger(RLC.sources, RLC.losses, RLC.stores[:1])
    assert abs(en.balance(driven(1000.0, 1.3e-3), stores).imbalance_ratio) > 0.05


def test_step_fills_a_capacitor_at_half_efficiency() -> None:
    """Of the C V^2 a 1 V source gives an RLC until it rests, half is stored, half burnt; whatever R and L."""
    time = uneven_time(0.02, 100_000)
    voltage, *_ = rlc_ring(time, R, L, C)
    rate = R / (2 * L)
    omega = np.sqrt(1 / (L * C) - rate**2)
    current = np.exp(-rate * time) * np.sin(omega * time) / (omega * L)
    waves = Waveforms(time, {"e": np.ones_like(time), "i": current, "v": voltage})
    books = Ledger((Product("source", (("e", "i"),)),), (Resistive("r", "i", R),), (Inductive(("i",), ((L,),)), Capacitive("v", C)))
    found = en.balance(waves, books)
    half, rule = 0.5 * C / waves.duration, "half of C V^2, whatever R and L"
    assert found.losses["r"] == known(half, "step into a capacitor: burnt", rule, CLOSED, unit="W", rel=1e-4)
    assert found.stored == known(half, "step into a capacitor: stored", rule, CLOSED, unit="W", rel=1e-4)
    early = en.balance(waves.between(0.0, 2e-4), books)
    assert early.imbalance_ratio == pytest.approx(0.0, abs=1e-5)


def test_coupled_coils_store_half_i_l_i() -> None:
    """L1 3, L2 2, M 1 H at 2 and -1 A: (3*4 + 2*1 - 2*1*2)/2 = 5 J, by hand."""
    waves = Waveforms(np.array([0.0, 1.0]), {"a": np.array([0.0, 2.0]), "b": np.array([0.0, -1.0])})
    assert en.stored_change(waves, Inductive(("a", "b"), ((3.0, 1.0), (1.0, 2.0)))) == pytest.approx(5.0)
    assert en.stored_change(waves, Capacitive("a", 3.0)) == pytest.approx(6.0)


def test_magnetic_store_of_a_saturable_winding() -> None:
    """i = sinh(flux): the energy between two fluxes is the difference of their cosh; nothing round a cycle."""
    time = uneven_time(1.0, 20_000)
    flux = 2 * np.sin(2 * np.pi * time)
    waves = Waveforms(time, {"i": np.sinh(flux), "y": flux})
    store = Magnetic("i", "y")
    assert en.stored_change(waves, store) == pytest.approx(0.0, abs=1e-6)
    part = waves.between(0.05, 0.22)
    exact = np.cosh(2 * np.sin(0.44 * np.pi)) - np.cosh(2 * np.sin(0.1 * np.pi))
    assert en.stored_change(part, store) == pytest.approx(exact, rel=1e-5)


def test_ideal_stage_passes_all_its_power_on() -> None:
    """(pi Vdc)^2/(2R) in the load, from the supply's Vdc Idc; section 8 of the reference file."""
    stage = Stage()
    waves = stage.waveforms(10, 400).between(1 / stage.frequency, 9 / stage.frequency)
    books = Ledger(
        (Product("supply", (("supply.voltage", "supply.current"),)),), (Ohmic("workpiece", "tank.voltage", stage.resistance),)
    )
    found = en.balance(waves, books)
    assert found.losses["workpiece"] == listed("INV_EXAMPLE", "power", INV_EXAMPLE[0], rel=1e-4)
    assert found.imbalance_ratio == pytest.approx(0.0, abs=2e-4)


def test_without_a_source_there_is_no_ratio() -> None:
    """A ring-down: the stores feed the loss, no source to compare with."""
    time = uneven_time(5e-3, 20_000)
    left, *_ = rlc_ring(time, R, L, C)
    rate, omega = R / (2 * L), np.sqrt(1 / (L * C) - (R / (2 * L)) ** 2)
    current = -np.exp(-rate * time) * np.sin(omega * time) / (omega * L)
    waves = Waveforms(time, {"i": current, "v": 1 - left})
    found = en.balance(waves, Ledger((), (Resistive("r", "i", R),), (Inductive(("i",), ((L,),)), Capacitive("v", C))))
    assert found.imbalance_ratio is None
    assert found.stored == pytest.approx(-found.losses["r"], rel=1e-3)


def test_names_needed_and_missing() -> None:
    books = Ledger(RLC.sources, RLC.losses, (*RLC.stores, Magnetic("im", "psi")))
    assert en.needed(books) == ("e", "i", "vr", "half", "vc", "im", "psi")
    with pytest.raises(KeyError, match="no signal 'psi'"):
        en.balance(Waveforms(np.arange(3.0), {"im": np.ones(3)}), Ledger(stores=(Magnetic("im", "psi"),)))


@given(frequency=st.floats(200.0, 3000.0), start=st.floats(0.0, 4e-3), length=st.floats(1e-3, 4e-3))
def test_balance_closes_whatever_the_piece(frequency: float, start: float, length: float) -> None:
    piece = driven(frequency, 10e-3).between(start, start + length)
    found = en.balance(piece, RLC)
    turned_over = en.mean_power(piece, Product("", (("vr", "i"),)))
    assert abs(found.supplied - sum(found.losses.values()) - found.stored) < 1e-4 * turned_over + 1e-9


def test_a_loss_that_is_told_by_itself_is_that_of_each_piece_and_stays_in_its_part() -> None:
    """Four equal resistors, told as each one's loss."""
    told = Ledger(
        sources=RLC.sources,
        losses=(Resistive("wire", "i", R / 2, told="wire.each_w", pieces=4), Ohmic("wire", "vr", R, 0.5, told="wire.load_w")),
    )
    found = en.balance(driven(2e3, 5e-3), told)
    assert found.told["wire.each_w"] == pytest.approx(found.losses["wire"] / 8, rel=1e-9)
    assert found.told["wire.load_w"] == pytest.approx(found.losses["wire"] / 2, rel=1e-9)
