# SPDX-License-Identifier: GPL-3.0-or-later
"""Choke models run in plain ngspice against the curves they are written from: current, inductance and energy."""

import subprocess

import numpy as np
import pytest

from heatsim.netlist.chokes import FLUX_UNIT, choke_model
from heatsim.netlist.library import call, library_folder
from heatsim.parts.curves import GappedCurve, LinearCurve, soft_curve, table_curve
from tests.support.book import CLOSED, known

pytestmark = pytest.mark.ngspice

CURVES = {
    "linear": LinearCurve(60e-6, 1e-6),
    "soft": soft_curve(60e-6, 1.5e-6, 25.0, 1.855),
    "gapped": GappedCurve(60e-6, 1.5e-6, 1.2e-3, 1e-4),
    "table": table_curve([0, 5, 10, 20, 30], [65e-6, 60e-6, 50e-6, 35e-6, 22e-6], 1.5e-6),
}
PEAK, FREQUENCY = 2.2e-3, 10e3


def run(folder, text):
    """Columns of `wrdata`-free ascii: printed time, flux node, current."""
    deck = folder / "choke.cir"
    deck.write_text(text, encoding="utf-8")
    raw = folder / "out.raw"
    subprocess.run(["ngspice", "-b", "-r", str(raw), str(deck)], capture_output=True, timeout=60, cwd=folder, check=True)
    data = raw.read_bytes()
    head, _, body = data.partition(b"Binary:\n")
    count = int(head.split(b"No. Variables:")[1].split()[0])
    return np.frombuffer(body, dtype=float).reshape(-1, count)


@pytest.fixture(scope="module", params=CURVES, ids=str)
def driven(request, tmp_path_factory):
    """A choke without losses, its flux driven as a sine of PEAK: time, flux [Wb], current [A]."""
    curve = CURVES[request.param]
    name, text, values = choke_model(curve, "left")
    omega = 2 * np.pi * FREQUENCY
    parts = {**values, "rcu": 1e-6, "rcore": 1e9, "cw": 1e-15, "fref": FLUX_UNIT}
    deck = "\n".join(
        [
            "* choke driven by a cosine voltage",
            text,
            f"v1 in 0 sin(0 {PEAK * omega:.9g} {FREQUENCY} 0 0 90)",
            call("xch", "in 0", name, parts),
            ".option method=trap reltol=1e-5",
            f".tran 10n {2 / FREQUENCY} 0 20n uic",
            ".save v(xch.phi) i(v.xch.vs)",
            ".end",
            "",
        ]
    )
    data = run(tmp_path_factory.mktemp("choke"), deck)
    return request.param, curve, data[:, 0], data[:, 1] * FLUX_UNIT, data[:, 2]


def test_current_follows_the_curve(driven):
    name, curve, _, flux, current = driven
    reach = np.abs(current).max()
    assert np.abs(flux).max() == pytest.approx(PEAK, rel=2e-3)
    wanted = curve.current(flux)
    assert current == known(wanted, f"choke model {name} in ngspice: current", "its curve", CLOSED, unit="A", abs=2e-3 * reach)


def test_differential_inductance_is_within_one_per_cent_of_l0(driven):
    _, curve, time, flux, current = driven
    rising = (time > 0.01 / FREQUENCY) & (time < 0.24 / FREQUENCY)
    slope = np.diff(flux[rising]) / np.diff(current[rising])
    wanted = curve.inductance(0.5 * (current[rising][1:] + current[rising][:-1]))
    assert slope.size > 500
    assert np.abs(slope - wanted).max() < 0.01 * curve.inductance_zero


def test_no_net_energy_round_a_cycle(driven):
    _, _, time, flux, current = driven
    last = time >= time[-1] - 1 / FREQUENCY
    energy = np.cumsum(0.5 * (current[last][1:] + current[last][:-1]) * np.diff(flux[last]))
    assert abs(energy[-1]) < 5e-3 * np.ptp(energy)


@pytest.mark.parametrize("file", ["choke_soft.lib", "choke_gapped.lib", "choke_linear.lib", "choke_table.lib"])
def test_a_library_file_is_usable_by_hand(file, tmp_path):
    # exactly what a person would type: include the file, call the subcircuit with its defaults
    text = (library_folder() / file).read_text(encoding="utf-8")
    (tmp_path / file).write_text(text, encoding="utf-8")
    name = f"hs_{file.removesuffix('.lib')}"
    deck = f"* by hand\n.include {file}\nv1 in 0 pwl(0 0 1n 10)\nx1 in 0 {name} rcu=1u\n.tran 10n 20u uic\n.save i(v.x1.vs)\n.end\n"
    data = run(tmp_path, deck)
    assert 1.0 < data[-1, 1] < 20.0  # 10 V for 20 us on some 50 uH: about 4 A
