# SPDX-License-Identifier: GPL-3.0-or-later
"""Columns of tests/support/references_heating.py, sections 9 and 10: eddy heating, steel, heat loss."""

from __future__ import annotations

from tests.support.book.columns import MEMORY, PUBLISHED, Column, table

OTHER_GRADE = "heatsim's law is that of EN 1993-1-2 for any carbon steel, up to 5 % from this grade, and not meant for it"

HEATING = {
    "CYL_FPQ": table(
        "Davies & Simpson 1979, Bessel functions",
        f=Column(1, "bar in an axial field, radius {0} skin depths: F"),
        p=Column(2, "bar in an axial field, radius {0} skin depths: P"),
        q=Column(3, "bar in an axial field, radius {0} skin depths: Q"),
    ),
    "CYL_POWER": table(
        "the same, no end effect", power=Column(6, "power of a bar of {0} m radius, {2:g} ohm m, mu_r {3}, {4:g} Hz", "W")
    ),
    "TUBE_HEAT": table(
        "modified Bessel functions",
        f=Column(4, "tube {0} by {1}, skin depth {2}, mu_r {3}: F"),
        screening=Column(5, "tube {0} by {1}, skin depth {2}, mu_r {3}: field inside over outside"),
    ),
    "EN_STEEL": table(
        "EN 1993-1-2:2005 3.4.1",
        c=Column(1, "specific heat of steel at {0} °C", "J/(kg K)"),
        conductivity=Column(2, "thermal conductivity of steel at {0} °C", "W/(m K)"),
    ),
    "EN_ENTHALPY": table("EN 1993-1-2:2005, integrated", enthalpy=Column(1, "enthalpy of steel from 20 to {0} °C", "J/kg")),
    "STEEL_RHO_T": table(
        "0.2 % C steel: 100 and 300 °C published, others from memory",
        unchecked={"conductivity": OTHER_GRADE, "mean specific heat": OTHER_GRADE, "density": OTHER_GRADE},
        rho=Column(
            1, "resistivity of steel at {0} °C", "ohm m", PUBLISHED, rel=0.02, other=((0, MEMORY), (3, MEMORY), (4, MEMORY))
        ),
    ),
    "STEEL_CONST": table(
        "handbooks, from memory; EN 1993-1-2; SI", value=Column(1, "{0}", "SI or °C", MEMORY, other=((3, PUBLISHED),))
    ),
    "CHURCHILL_CHU": table("Churchill & Chu 1975", nusselt=Column(2, "Nusselt number of a horizontal cylinder, Ra {0:g}, Pr {1}")),
    "CONV_EXAMPLE": table(
        "worked example of a teaching page, see the list",
        gr=Column((8, "Gr"), "heat loss of a pipe, worked example: Grashof number", "1", PUBLISHED),
        nu=Column((8, "Nu_McAdams(0.53*Ra^0.25)"), "heat loss of a pipe, worked example: Nusselt number", "1", PUBLISHED),
        h=Column((8, "h"), "heat loss of a pipe, worked example: coefficient", "W/(m2 K)", PUBLISHED),
        loss=Column((8, "Q_4m"), "heat loss of a pipe, worked example: 4 m of it", "W", PUBLISHED),
    ),
    "RADIATION": table("Stefan-Boltzmann law", flux=Column(3, "radiation from {0} K to {1} K, emissivity {2}", "W/m2")),
    "CYL_RAMP": table("Carslaw & Jaeger 7.8", difference=Column(3, "surface less centre of a bar, {0:g} W/m2, {1} m radius", "K")),
}
