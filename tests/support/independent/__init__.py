# SPDX-License-Identifier: GPL-3.0-or-later
"""Independent computations: other equations or another discretisation, none of heatsim's functions beyond the values of its parts.

What a netlist can hold, and what computes it apart from heatsim. "whole" is `whole` with its neighbours, a circuit of node voltages
and branch currents put together from the parts and stepped by `nodal` to its settled period (`orbit`); "by hand" is `circuit`,
ordinary differential equations of the two-choke and the one-choke stage, by LSODA (`solve`).

    supply       source with resistance, inductance, reservoir and its resistance            whole, by hand
                 ripple; a rectifier, which is a resistance and a ripple to the netlist      whole, over whole cycles
                 battery (a resistance); current limit, foldback (law of the limit, diode,
                 contact)                                                                    whole; sharp limits in `sources`
                 soft start, hiccup, bouncing contact: what happens before it is settled     `sources`, starts from rest
    chokes       powder by formula, straight, gapped                                         whole, by hand
                 powder by points, measured table, soft by its half current, hysteresis
                 (Jiles and Atherton with field and walls as states)                         whole (`cores`)
                 copper against frequency (resistors with inductors beside them)             whole, by hand; values: heatsim's
                 core loss as a resistance                                                   whole (printed loss forms), by hand
                 winding capacitance across the winding                                      whole; by hand from drain to ground
                 a shorted turn; unequal sides                                               whole; unequal by hand too
    switches     channel behind drain and source resistance, gate-drain and gate-source
                 charge at its ends, body diode with depletion and diffusion charge behind
                 its resistance, avalanche                                                   whole; by hand with both at the pins
                 law from the datasheet's figures                                            `datasheet`
                 several in parallel as one, threshold spread, drain leads                   whole, by hand
                 gate loops, source leads                                                    whole
                 a user's own model                                                          whole, where it is a power MOSFET
    gates        pull-up, pull-down, gate resistor, clamp, coupling diode                    whole, by hand
                 supply of their own, or the main one                                        whole, by hand
                 emitter followers (Gummel and Poon), integrated driver                      whole
    tank         bars between drains and tank, lossy above a corner                          whole, by hand
                 bank in one piece                                                           whole, by hand
                 each capacitor along two bars (heatsim: divided after the simulation)       whole (`whole_bank`), measured segments
                 coil with leads, tapped coil                                                whole, by hand
                 workpiece as a coupled branch that takes or adds flux; none                 whole (its values too), by hand
                 a workpiece that moves                                                      `moved`

Not covered: devices of a bank that differ (to the netlist they are one), models of a user's other than a power MOSFET, bars of a
bank by geometry (their impedance: tests/physics/test_bars.py), and damaged parts, which no scenario can switch on (`match` can:
tests/support/captures has equations of its own). A diode's breakdown and a switch's avalanche are in the laws, but a settled heater
does not reach them.

`elements` names these elements, `whole_circuits` has fixed circuits that together hold all of them, `random_circuits` draws others;
`agreement` computes them both ways. `python -m tests.support.independent` compares random ones.
"""
