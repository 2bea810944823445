# SPDX-License-Identifier: GPL-3.0-or-later
"""Messages as ngspice 39 writes them, and the cause a person reads."""

from __future__ import annotations

import pytest

from heatsim.engine.log import cause

SEEN = [
    (
        ["stderr Error: unknown subckt: x1 a b nosub", "stderr Error: there aren't any circuits loaded."],
        "a subcircuit is not defined: x1 a b nosub",
    ),
    (
        [
            "stderr warning, can't find model 'nomod' from line",
            "stderr d1 a b nomod",
            "stderr Error on line 5 or its substitute:",
            "stderr d1 a b nomod",
            "stderr could not find a valid modelname",
            "stderr Error: circuit not parsed.",
        ],
        "a model is not defined: nomod",
    ),
    (
        [
            "stderr Netlist line no. 5:",
            "stderr Undefined parameter [foo]",
            "stderr Cannot compute substitute",
            "stderr Error: ngspice.dll cannot recover and awaits to be detached",
            "note: ngSpice_Circ returned 1",
        ],
        "a parameter is not defined: foo",
    ),
    (
        [
            "stderr Error: no such function 'nofunc'",
            "stderr Error on line 5 or its substitute:",
            "stderr b1 c 0 v= nofunc ( v(a) )",
            "stderr parameter value out of range or the wrong type",
        ],
        "a function does not exist: nofunc",
    ),
    (["stderr Error: Mismatch of .subckt ... .ends statements!"], "a subcircuit is not closed by .ends"),
    (
        [
            "stderr Error on line 5 or its substitute:",
            "stderr c2 b 0 1n foo=3",
            "stderr unknown parameter (foo) ",
            "stderr Error: circuit not parsed.",
        ],
        "the line `c2 b 0 1n foo=3` could not be read: unknown parameter (foo)",
    ),
    (
        ["stderr Fatal error: instance v2 is a shorted VSRC", "stderr doAnalyses: operation not supported"],
        "the simulator says: instance v2 is a shorted VSRC",
    ),
    (
        [
            "stderr Error: -20 out of range for sqrt",
            "stderr in line b1",
            "stderr doAnalyses: TRAN:  Timestep too small; time = 1e-17, timestep = 1.25e-18: cause unrecorded.",
        ],
        "a formula fails at b1: -20 out of range for sqrt",
    ),
    (
        [
            "stderr Warning: singular matrix:  check node v1#branch",
            "stderr doAnalyses: TRAN:  Timestep too small; time = 5e-18, timestep = 6.25e-19: cause unrecorded.",
        ],
        "the equations are singular at node v1#branch",
    ),
    (
        ['stderr doAnalyses: TRAN:  Timestep too small; time = 2e-06, timestep = 1.25e-21: trouble with node "b"'],
        "the time step became too small at 2e-06 s, trouble at b",
    ),
    (
        ["stderr doAnalyses: TRAN:  Timestep too small; time = 1.67667e-06, timestep = 6.25e-19: trouble with sw-instance s1"],
        "the time step became too small at 1.67667e-06 s, trouble at sw-instance s1",
    ),
    (
        ["stderr doAnalyses: TRAN:  Timestep too small; time = 5e-18, timestep = 6.25e-19: cause unrecorded."],
        "the time step became too small at 5e-18 s",
    ),
    (["stderr Error: there aren't any circuits loaded."], "the netlist could not be read"),
    (["stderr Error: something never seen before"], "the simulator says: something never seen before"),
]


@pytest.mark.parametrize(("messages", "words"), SEEN, ids=[words[:40] for _, words in SEEN])
def test_the_cause_in_words(messages: list[str], words: str) -> None:
    assert cause(["stdout Circuit: * case", *messages, "stderr run simulation(s) aborted"]) == words


def test_notes_are_no_causes() -> None:
    assert (
        cause(
            [
                "stdout Note: No compatibility mode selected!",
                "stderr Warning: something small",
                "stderr Using SPARSE 1.3 as Direct Linear Solver",
                "stderr Note: Starting dynamic gmin stepping",
                "stderr 13: condition met: stop  when time > 0.0008",
                "stderr doAnalyses: pause requested",
                "stderr run simulation interrupted",
                " Reference value :  4.44229e-04",
            ]
        )
        == ""
    )


def test_a_brace_in_a_message_is_left_alone() -> None:
    assert cause(["stderr Fatal error: odd {thing} here"]) == "the simulator says: odd {thing} here"
