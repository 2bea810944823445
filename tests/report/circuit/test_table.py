# SPDX-License-Identifier: GPL-3.0-or-later
"""Every element of every netlist is drawn, or measures only."""

import re

import pytest

from heatsim.report.circuit.layout import lay_out
from heatsim.report.circuit.table import METER, MISSING, drawn
from tests.support.circuits import FILES, LONG, cases

DECK = """* a heater
.subckt hs_supply bus v=48
vdc s0 0 1
+ 2
vs s0 x 0
rs x bus 1m
.ends hs_supply
* a comment
xsupply bus hs_supply v=42
evtank vtank 0 t_left t_right 1
rleak_left xsw_left.dp 0 1k
.end
"""


def elements(netlist):
    """Elements of a netlist as call and element, written anew: what its calls hold and what stands outside."""
    bodies = dict(re.findall(r"^\.subckt (\S+).*?\n(.*?)^\.ends", netlist, re.MULTILINE | re.DOTALL))
    outside = re.sub(r"^\.subckt.*?^\.ends[^\n]*", "", netlist.split("\n", 1)[1], flags=re.MULTILINE | re.DOTALL)
    found = []
    for line in re.findall(r"^[a-z].*", outside, re.MULTILINE):
        inner = [bodies[word] for word in line.split() if word in bodies]
        name = line.split()[0]
        found += [f"{name} {each}" for each in re.findall(r"^[a-z]\w*", inner[0], re.MULTILINE)] if inner else [name]
    return found


def line_of(netlist, name):
    """The line of an element."""
    call, _, element = name.rpartition(" ")
    body = netlist
    if call:
        words = re.search(rf"^{call} (.*(?:\n\+.*)*)", netlist, re.MULTILINE)[1].split()
        (body,) = (found[1] for word in words if (found := re.search(rf"^\.subckt {word} (.*?)^\.ends", netlist, re.M | re.S)))
    return re.search(rf"^{element} .*", body, re.MULTILINE)[0]


@pytest.mark.parametrize("path", [pytest.param(p, marks=pytest.mark.slow) if p.stem in LONG else p for p in FILES], ids=str)
def test_every_element_of_the_netlist_is_drawn(path):
    for case, (heater, deck) in cases(path).items():
        found, symbols = drawn(deck.text), {symbol.name for symbol in lay_out(heater).symbols}
        assert MISSING not in found, f"{case}: in the netlist, but not in the table: {found.get(MISSING)}"
        assert not found.keys() - symbols - {METER}, f"{case}: in the table, but not drawn"
        assert sorted(name for names in found.values() for name in names) == sorted(elements(deck.text))
        assert symbols - found.keys() <= {"drain.left", "drain.right", "gate.left", "gate.right", "supply.fuse"}, (
            "drawn, but not simulated"
        )


def test_what_is_not_drawn_only_measures():
    for path in ("bench-heater.toml", "bench-heater-push-pull.toml", "gallery/one-choke.toml", "failures/hiccup.toml"):
        for _, deck in cases(next(p for p in FILES if str(p) == path)).values():
            for name in drawn(deck.text)[METER]:
                line = line_of(deck.text, name)
                assert re.fullmatch(r"v\w* \S+ \S+ 0", line) or line.startswith("evtank vtank 0"), line


def test_an_element_that_is_not_known_is_missing():
    found = drawn(DECK)
    assert found == {
        "supply": ("xsupply vdc",),
        METER: ("xsupply vs", "evtank"),
        "supply.resistance": ("xsupply rs",),
        MISSING: ("rleak_left",),
    }
    assert drawn(DECK.replace("rs x", "rnew x"))[MISSING] == ("xsupply rnew", "rleak_left")
