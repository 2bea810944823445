# SPDX-License-Identifier: GPL-3.0-or-later
"""The current limit and the hiccup of the model library in plain ngspice, against their definitions written out here."""

import subprocess

import numpy as np
import pytest

from heatsim.netlist.library import library_folder

pytestmark = pytest.mark.ngspice

FULL, MOST = 40.0, 10.0


def run(folder, lines, saved):
    """Time and saved vectors of a deck round the library's file."""
    deck, raw = folder / "supply.cir", folder / "out.raw"
    include = f".include {library_folder() / 'supply_source.lib'}"
    deck.write_text("\n".join(["* supply", include, *lines, f".save {saved}", ".end", ""]), encoding="utf-8")
    subprocess.run(["ngspice", "-b", "-r", str(raw), str(deck)], capture_output=True, timeout=120, cwd=folder, check=True)
    head, _, body = raw.read_bytes().partition(b"Binary:\n")
    count = int(head.split(b"No. Variables:")[1].split()[0])
    return np.frombuffer(body, dtype=float).reshape(-1, count).T


@pytest.mark.parametrize("short", [MOST, 2.0], ids=["constant", "foldback"])
def test_a_limit_holds_its_line_within_six_per_cent_of_the_limit(tmp_path, short):
    """Its output is drawn down from full voltage to a short circuit; from 2 % below its voltage on the line is that of the
    definition, short + (most - short) u/knee below the knee, within 6 % of the limit at full voltage."""
    knee = 30.0
    lines = [
        f"vset set 0 dc {FULL}",
        "vcon con 0 dc 0",
        f"xs bus set con sen hs_supply_limited v={FULL} rs=1m ls=10n c=1n esr=1m ilim={MOST} isc={short} vknee={knee}",
        f"vdraw bus 0 pwl(0 {FULL} 1m {FULL} 11m 0)",
        ".tran 5u 11m 0 5u uic",
    ]
    time, volts, amps = run(tmp_path, lines, "v(bus) i(v.xs.vs)")
    limited = (volts < 0.98 * FULL) & (time > 1e-3)
    wanted = short + (MOST - short) * np.minimum(volts / knee, 1.0)
    assert limited.sum() > 1000
    assert np.abs(amps - wanted)[limited].max() < 0.06 * MOST
    below = (time > 0.5e-3) & (time < 1e-3)
    assert np.abs(amps[below]).max() < 0.95 * MOST  # at full voltage it gives no more than the load takes


def test_an_open_contact_carries_nothing_and_no_current_flows_back(tmp_path):
    lines = [
        f"vset set 0 dc {FULL}",
        "vcon con 0 pwl(0 0 1m 0 1.02m 18.4207 2m 18.4207 2.02m 0)",
        f"xs bus set con sen hs_supply_limited v={FULL} rs=10m ls=1u c=10u esr=10m ilim=1e3 isc=1e3 vknee={FULL} ks=0",
        "rload bus 0 20",
        "vback push 0 pwl(0 0 3m 0 3.1m 60)",
        "dback push back dpush",
        ".model dpush d(is=1e-9 n=0.1)",
        "rback back bus 1",
        ".tran 2u 4m 0 2u uic",
    ]
    time, volts, amps = run(tmp_path, lines, "v(bus) i(v.xs.vs)")
    open_ = (time > 1.05e-3) & (time < 2e-3)
    assert np.abs(amps[open_]).max() < 0.01
    falling = FULL * np.exp(-(time[open_] - 1.02e-3) / (20 * 10e-6))
    assert np.abs(volts[open_] - falling).max() < 0.05 * FULL  # R C of the load and the reservoir
    pushed = time > 3.5e-3
    assert volts[pushed].min() > FULL + 5 and np.abs(amps[pushed]).max() < 0.01


def test_a_hiccup_switches_off_after_its_delay_and_comes_again(tmp_path):
    trip, retry, rise = 0.5e-3, 2e-3, 0.2e-3
    lines = [
        "vcon con 0 dc 0",
        f"xh set sen off hs_hiccup v={FULL} tr={rise} ilim={MOST} trip={trip} retry={retry}",
        f"xs bus set con sen hs_supply_limited v={FULL} rs=10m ls=1u c=10u esr=10m ilim={MOST} isc={MOST} vknee={FULL}",
        f"rload bus 0 {FULL / MOST / 2}",
        ".tran 2u 6m 0 2u uic",
    ]
    time, off, amps = run(tmp_path, lines, "v(off) i(v.xs.vs)")
    switched = time[1:][(off[1:] > 0.5) & (off[:-1] <= 0.5)]
    back = time[1:][(off[1:] <= 0.5) & (off[:-1] > 0.5)]
    reached = time[np.argmax(amps > 0.99 * MOST)]
    assert switched[0] - reached == pytest.approx(trip, rel=0.15)
    assert back[0] - switched[0] == pytest.approx(retry, rel=0.05)
    assert switched[1] - back[0] == pytest.approx(reached + trip, rel=0.2)  # every try is like the first
    held = (time > switched[0] + 0.3e-3) & (time < back[0] - 0.1e-3)
    assert np.abs(amps[held]).max() < 0.02 * MOST


def test_a_hiccup_stands_a_load_below_its_limit(tmp_path):
    lines = [
        "vcon con 0 dc 0",
        f"xh set sen off hs_hiccup v={FULL} tr=0.2m ilim={MOST} trip=0.3m retry=2m",
        f"xs bus set con sen hs_supply_limited v={FULL} rs=10m ls=1u c=10u esr=10m ilim={MOST} isc={MOST} vknee={FULL}",
        f"rload bus 0 {FULL / MOST / 0.9}",
        ".tran 2u 3m 0 2u uic",
    ]
    time, off, volts = run(tmp_path, lines, "v(off) v(bus)")
    assert off.max() < 0.01
    assert volts[-1] == pytest.approx(FULL, rel=0.01)
