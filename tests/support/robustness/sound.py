# SPDX-License-Identifier: GPL-3.0-or-later
"""Sound files, which are mutated: scenarios, a catalogue of one's own, a model file and a ring test."""

from __future__ import annotations

from pathlib import Path

OWN = """# what lies in the drawer
[material.fe-si-al-60]
alloy = "measured powder"
permeability = 55
path_rule = "logarithmic"
provenance = "measured"
source = "bench"
[material.fe-si-al-60.bias]
points = [["10 Oe", "97 %"], ["50 Oe", "75 %"], ["100 Oe", "45 %"]]
tolerance = "3 %"
provenance = "measured"
source = "bench"

[ring.drawer-40]
outer_diameter = "39.9 mm"
inner_diameter = "24.1 mm"
height = "14.5 mm"
coating = "0.5 mm"
path_rule = "logarithmic"
path_length = "98 mm"
provenance = "measured"
source = "calliper"
"""
"""A catalogue."""

GOOD = """* a maker's file
.model mypart VDMOS(vto=3.8 kp=50
+ rd=9m rs=2m cgs=4n cgdmax=2n cgdmin=40p a=0.3 ; comment
+ cjo=2n is=1p)
.subckt whole d g s params: r=1m
.param twice={2*r}
r1 d x {r}
m1 x g s s inner
c1 g s 3n
c2 x s 500p
c3 g x 60p
d1 s x body
.model body d(is=1p rs=3m)
.model inner nmos(level=1 vto=3 kp=20)
.ends
.end
"""
"""A model file."""

REFUSED = [
    (".control\nshell touch owned\n.endc\n", "directive"),
    (".include /etc/passwd\n", "directive"),
    (".lib x\n", "directive"),
    (".model a filesource(file=x)\n", "type that is not taken"),
    (".options gmin=1\n", "directive"),
    (".subckt a b c\na1 [b] [c] filesrc\n.ends\n", "part that is not taken"),
    (".subckt a b c\n.control\n.endc\n.ends\n", "directive"),
    (".subckt a b c\n.include x\n.ends\n", "directive"),
    (".subckt a b c\nr1 b c 1\n", "not closed"),
    (".model mypart vdmos(vto=`id`)\n", "signs"),
    ('.model mypart vdmos(vto="1")\n', "signs"),
    (".model other vdmos(vto=1)\n", "no such model"),
    (".model mypart vdmos(vto=1)\n.con\n+trol\n", "directive"),
    (".CONTROL\nquit\n.ENDC\n", "directive"),
    ("shell touch owned\n", "neither a model nor part"),
    ("r1 a b 1\n", "neither a model nor part"),
    (".param x=1\n", "directive"),
    (".subckt a d g s\nshell touch owned\n.ends\n", "too few words"),
    (".subckt a d g s\nshell touch owned by me now\n.ends\n", "calls a model that the file does not have"),
    (".subckt a d g s\nshell touch owned d g inner\n.model inner nmos(level=1)\n.ends\n", "a model of another type"),
    (".subckt a d g s\nx1 d g s inner\n.model inner nmos(level=1)\n.ends\n", "a model of another type"),
    (".subckt a d g s\nd1 s d a\n.ends\n", "a model of another type"),
    (".subckt a d g s\n.params twice=2\n.ends\n", "directive"),
    (".subckt a d g s\nx1 d g s nowhere params: r=1\n.ends\n", "calls a model that the file does not have"),
    (".subckt a d g s\nr1 d s {2*(3}\n.ends\n", "signs"),
    (".model mypart\n", "not complete"),
    (".model mypart d(is=1p)\n", "cannot be a switch"),
    (".subckt mypart d g s b\nr1 d g 1\n.ends\n", "cannot be a switch"),
]
"""Model files that are refused, and a word of why."""

GEOMETRY = """
[heater]
name = "All by geometry"
topology = "one-choke"
catalogue = "own.toml"
air_speed = "2 m/s"
[supply]
voltage = "60 V"
ripple = "1 V"
[choke]
turns = 18
short_resistance = "40 ohm"
short_inductance = "200 uH"
[choke.core]
material = "fe-si-al-60"
ring = "powder-39.9x24.1x14.5"
stack = 2
[choke.core.hysteresis]
saturation = "716.5 kA/m"
shape = "6567 A/m"
pinning = "1040 A/m"
coupling = 0.01055
reversible = "96.3 %"
[choke.wire]
gauge = "AWG 15"
strands = 2
lay = "twisted"
looseness = "0.2 mm"
[switch]
voltage_rating = "300 V"
on_resistance = "30 mohm"
threshold = "3.6 V"
transconductance = "70 S"
transconductance_current = "40 A"
input_capacitance = "4.2 nF"
output_capacitance = "420 pF"
reverse_capacitance = "60 pF"
gate_drain_charge = "24 nC"
model_file = "maker.lib"
model = "mypart"
[gate]
supply_voltage = "14 V"
pull_up = "68 ohm"
clamp_voltage = "16 V"
resistor = "4.7 ohm"
[capacitors]
capacitance = "330 nF"
count = 6
dissipation_factor = "0.06 %"
[coil]
turns = 7
diameter = "60 mm"
length = "70 mm"
tube_diameter = "6 mm"
tube_wall = "1 mm"
half_coupling = "40 %"
lead_length = "150 mm"
lead_spacing = "20 mm"
[simulate]
longest = "20 ms"
[case.idle]
[case.bar]
set = {"supply.voltage" = "50 V"}
[case.bar.workpiece]
diameter = "30 mm"
length = "80 mm"
resistivity = "0.2 uohm*m"
permeability = 20
share = "50 %"
[case.steel.workpiece]
diameter = "30 mm"
length = "80 mm"
material = "steel"
"""
BENCH = GEOMETRY.replace('catalogue = "own.toml"\n', "").replace("one-choke", "two-choke")
BENCH = BENCH[: BENCH.index("[choke]")] + """[choke.left.measured]
inductance = "60 uH"
resistance = "11 mohm"
saturation_current = "30 A"
[choke.right.measured]
resistance = "11 mohm"
table = [["0 A", "60 uH"], ["10 A", "50 uH"], ["30 A", "20 uH"]]
""" + BENCH[BENCH.index("[switch]") : BENCH.index("model_file")] + BENCH[BENCH.index("[gate]") :]  # fmt: skip

FEW = BENCH[: BENCH.index("[switch]")] + """[switch]
device = "generic 200 V 40 mohm"
threshold_current = "1 mA"
plateau_voltage = "5 V"
gate_charge = "80 nC"
curves.capacitance = [["5 V", "5 nF", "1 nF", "400 pF"], ["80 V", "4.2 nF", "250 pF", "50 pF"]]
curves.transfer = [["5 V", "20 A"], ["6 V", "60 A"]]
""" + BENCH[BENCH.index("[gate]") :]  # fmt: skip
FEW_FIGURES = FEW.replace(
    'device = "generic 200 V 40 mohm"', BENCH[BENCH.index("voltage_rating") : BENCH.index("transconductance")]
)
FEW_FIGURES = FEW_FIGURES.replace("[gate]", 'input_capacitance = "4.2 nF"\n[gate]')

RING_TEST = """[ring]
name = "x"
outer_diameter = "27 mm"
inner_diameter = "15 mm"
height = "11 mm"
stack = 2
path_length = "65 mm"
[winding]
turns = 26
wire_diameter = "1.2 mm"
[lcr]
inductance = "60 uH"
frequency = "10 kHz"
[bias]
readings = [["0 A", "60 uH"], ["1 A", "59 uH"], ["2 A", "58 uH"]]
[ramp]
file = "ramp.csv"
voltage = "12 V"
bits = 8
full_scale = "64 A"
"""
RAMP = "time [s],current [A]\n" + "".join(f"{k}e-6,{0.5 * k}\n" for k in range(40))


def files(folder: Path) -> None:
    """What scenarios and the ring test name, beside them."""
    (folder / "own.toml").write_text(OWN)
    (folder / "maker.lib").write_text(GOOD)
    (folder / "ramp.csv").write_text(RAMP)
