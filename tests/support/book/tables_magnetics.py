# SPDX-License-Identifier: GPL-3.0-or-later
"""Columns of tests/support/references.py, sections 1 to 7: wire, inductance, resistance, ring cores, core loss, hysteresis."""

from __future__ import annotations

from tests.support.book.columns import MEMORY, PUBLISHED, Column, table

CATALOGUE_B = "powder-core catalogue 2011-2017, from memory"
CATALOGUE_C = "iron-powder catalogue, Issue L, 2007, from memory"

WIRE = {
    "COPPER_CONST": table(
        "IEC 60028 (1925); density from memory", value=Column(1, "copper: {0}", "SI", PUBLISHED, other=((3, MEMORY),))
    ),
    "COPPER_RHO_T": table("constants of IEC 60028", rho=Column(1, "resistivity of copper at {0} °C", "ohm m")),
    "AWG": table(
        "ASTM B258, law of the series",
        d=Column(1, "diameter of AWG {0}", "mm"),
        area=Column(2, "cross-section of AWG {0}", "mm2"),
        ohm=Column(3, "resistance of AWG {0} copper at 20 °C", "ohm/km"),
    ),
    "ENAMEL": table(
        "IEC 60317-0-1 Table 1, from memory",
        grade1=Column(1, "overall diameter of {0} mm wire, grade 1", "mm", MEMORY, abs=0.003),
        grade2=Column(2, "overall diameter of {0} mm wire, grade 2", "mm", MEMORY, abs=0.003),
    ),
    "SKIN_DEPTH": table("sqrt(2 rho/(w mu))", delta=Column(3, "skin depth at {0:g} ohm m, mu_r {1:g}, {2:g} Hz", "m")),
}

INDUCTANCE = {
    "NAGAOKA": table(
        "Nagaoka 1909; Rosa & Grover 1912, Table 21",
        exact=Column(1, "Nagaoka's coefficient at D/l = {0}"),
        printed=Column(2, "Nagaoka's coefficient at D/l = {0}, four digits", "1", MEMORY, abs=0.5e-4),
    ),
    "SOLENOID_SHEET": table(
        "Lorenz/Nagaoka sheet; Lundin 1985, Wheeler 1982 and 1928",
        sheet=Column(3, "current sheet of {2} turns, {0} m by {1} m", "H", rel=1e-9),
        lundin=Column(4, "error of Lundin's formula for {2} turns, {0} m by {1} m", abs=2e-6),
        wheeler82=Column(5, "error of Wheeler's formula of 1982 for {2} turns, {0} m by {1} m", abs=2e-5),
        wheeler28=Column(6, "error of Wheeler's formula of 1928 for {2} turns, {0} m by {1} m", abs=2e-5),
    ),
    "ROSA_B": table("Rosa 1906, the defining sum", term=Column(1, "Rosa's term B for {0} turns", abs=1e-6)),
    "SOLENOID_WIRE": table("sheet less Rosa's terms", value=Column(4, "coil of {2} turns of {3} m wire, {0} m by {1} m", "H")),
    "LOOP_MUTUAL": table("Maxwell 1873, art. 701", value=Column(3, "mutual inductance of loops {0} m and {1} m, {2} m apart", "H")),
    "LOOP_SELF": table("Grover 1946", value=Column(3, "inductance of a loop of {0} m, wire radius {1} m", "H")),
}

RESISTANCE = {
    "SKIN_ROUND_X": table(
        "Bessel functions; argument as Rosa & Grover 1912, NBS Circular 74",
        resistance=Column(1, "AC over DC resistance of a round wire, x = {0}"),
        inductance=Column(2, "inner inductance of a round wire over that at DC, x = {0}"),
    ),
    "SKIN_ROUND_AD": table(
        "Bessel functions", resistance=Column(1, "AC over DC resistance of a round wire, radius {0} skin depths")
    ),
    "SKIN_MEASURED": table(
        "impedance analyser, posted in a forum thread on Terman's table 3.35",
        measured=Column(1, "{0}: AC over DC resistance as measured", "1", PUBLISHED, abs=0.4),
        theory=Column(2, "{0}: AC over DC resistance in theory", "1", rel=1e-5),
    ),
    "TUBE_RAC": table(
        "Dwight 1918, modified Bessel functions",
        ratio=Column(2, "AC over DC resistance of a tube, outer radius {0}, wall {1} skin depths"),
    ),
    "DOWELL": table("Dowell 1966", factor=Column(2, "Dowell's factor of {1} layers, xi = {0}")),
    "DOWELL_ROUND": table(
        "Dowell 1966, round wire",
        xi=Column(5, "xi of {0} m wire at a pitch of {1} m, {2:g} Hz, {4} °C"),
        factor=Column(6, "Dowell's factor of {3} layers of {0} m wire, {2:g} Hz, {4} °C"),
    ),
    "PROX_TRANSVERSE": table(
        "Ferreira 1994", coefficient=Column(1, "loss of a round wire in a transverse field, radius {0} skin depths")
    ),
    "MEDHURST": table(
        "Medhurst 1947, Table VIII, from memory; the function interpolates this table, so this guards its orientation",
        **{
            f"s{10 - place}": Column(
                (1, place),
                f"Medhurst's factor at l/D = {{0}}, wire over pitch 0.{10 - place}".replace("0.10", "1.0"),
                "1",
                MEMORY,
                rel=0.03,
            )
            for place in range(10)
        },
    ),
}

RINGS = {
    "RING_IEC": table(
        "IEC 60205; catalogue columns: ferrite data book 2006-2013, from memory",
        path=Column(4, "path length of ring {0}", "mm", rel=1e-6),
        area=Column(5, "area of ring {0}", "mm2", rel=1e-6),
        volume=Column(6, "volume of ring {0}", "mm3", rel=1e-6),
        path_printed=Column(7, "path length of ring {0}, catalogue", "mm", MEMORY, rel=1e-3),
        area_printed=Column(8, "area of ring {0}, catalogue", "mm2", MEMORY, rel=1e-3),
        volume_printed=Column(9, "volume of ring {0}, catalogue", "mm3", MEMORY, rel=1e-3),
    ),
    "RING_POWDER_B": table(
        CATALOGUE_B,
        by_rule=Column(9, "path length of powder ring {0}, pi (d1 - d2)/ln(d1/d2)", "mm", rel=1e-5),
        path=Column(4, "path length of powder ring {0}, catalogue", "mm", MEMORY, rel=3e-3),
        area=Column(5, "area of powder ring {0}, catalogue, against h (d1 - d2)/2", "mm2", MEMORY, rel=0.08),
        volume=Column(6, "volume of powder ring {0}, catalogue, against path times area", "mm3", MEMORY, rel=0.01),
        al=Column(8, "inductance factor of powder ring {0}, mu {7}", "nH", MEMORY, rel=0.06),
    ),
    "RING_POWDER_C": table(
        CATALOGUE_C,
        by_rule=Column(9, "path length of iron-powder ring {0}, pi (d1 + d2)/2", "mm", rel=1e-5),
        path=Column(4, "path length of iron-powder ring {0}, catalogue", "mm", MEMORY, rel=1.2e-2),
        # printed areas are less than the rectangle, by the rounding of corners
        area=Column(5, "area of iron-powder ring {0}, catalogue, against h (d1 - d2)/2", "mm2", MEMORY, rel=0.093),
        volume=Column(6, "volume of iron-powder ring {0}, catalogue, against path times area", "mm3", MEMORY, rel=0.01),
        al=Column(8, "inductance factor of iron-powder ring {0}, mu {7}", "nH", MEMORY, rel=0.10),
    ),
    "AL_IRON_POWDER": table(
        "printed table of a builders' page, see the list; path and area of T50 and T94 from memory",
        al75=Column(1, "inductance factor of {0}, mu 75", "nH", PUBLISHED, rel=0.13),
        al35=Column(2, "inductance factor of {0}, mu 35", "nH", PUBLISHED, rel=0.13),
    ),
}

POWDERS = {
    "DCBIAS_FESIAL": table(
        "form of the powder catalogue, coefficients from memory",
        percent=Column(4, "permeability left of Fe-Si-Al {0} at {3} Oe", "%", abs=1e-3),
    ),
    "DCBIAS_IRON_50OE": table(
        "general property table, Issue L, from memory",
        percent=Column(2, "permeability left of iron powder mix {0} at 50 Oe", "%", MEMORY, abs=4.0),
    ),
    "DCBIAS_ORDER_100OE": table(
        "comparison charts of several powder catalogues, from memory: a broad band, of which the middle is shown",
        unchecked={"band[1]": "MPP: the recalled band is too high for the saturation of MPP; a test says by how much"},
        band=Column((1, 2), "permeability left of {0}, mu 60, at 100 Oe: {1} to {2}", "%", MEMORY, abs=1e-9),
    ),
    "BSAT": table(
        "Fe-Si-Al: powder catalogue (published); others from memory",
        tesla=Column(1, "saturation flux density of {0}", "T", MEMORY, other=((0, PUBLISHED),)),
    ),
    "LOSS_IRON_COEFF": table(
        "iron-powder catalogue, Issue L, p. 29, from memory",
        a=Column(2, "loss coefficient a of iron powder mix {0}", "form B", MEMORY, rel=1e-6),
        b=Column(3, "loss coefficient b of iron powder mix {0}", "form B", MEMORY, rel=1e-6),
        c=Column(4, "loss coefficient c of iron powder mix {0}", "form B", MEMORY, rel=1e-6),
        d=Column(5, "loss coefficient d of iron powder mix {0}", "form B", MEMORY, rel=1e-6),
    ),
    "LOSS_IRON": table(
        "general property table, Issue L, from memory; form B evaluated",
        computed=Column(3, "loss of iron powder mix {0}, {1:g} Hz, {2} G", "mW/cm3", rel=2e-4),
        printed=Column(4, "loss of iron powder mix {0}, {1:g} Hz, {2} G, as printed", "mW/cm3", MEMORY, rel=0.04),
    ),
    "LOSS_FESIAL": table(
        "form A, coefficients of two editions from memory", loss=Column(3, "loss of Fe-Si-Al at {1} T, {2} kHz", "mW/cm3")
    ),
    "IGSE_KI": table("Venkatachalam et al., COMPEL 2002", ki=Column(2, "iGSE: ki over k, alpha {0}, beta {1}")),
    "IGSE_TRI": table(
        "COMPEL 2002; Reinert et al., IEEE TIA 37, 2001",
        igse=Column(2, "iGSE over Steinmetz for a triangle, alpha {0}, duty {1}"),
        mse=Column(3, "MSE over Steinmetz for a triangle, alpha {0}, duty {1}"),
    ),
    "IGSE_CHOKE": table(
        "COMPEL 2002 on the ideal stage's flux", ratio=Column(3, "iGSE over Steinmetz, stage with chokes: {2}; alpha {0}, beta {1}")
    ),
}

HYSTERESIS = {
    "JA_LOOP": table(
        "two integrations of this form of the Jiles-Atherton model (LSODA, 1e-10 and 3e-12)",
        initial=Column(6, "hysteresis loop: initial susceptibility"),
        tip=Column(7, "hysteresis loop: magnetisation at the tip", "A/m"),
        remanence=Column(8, "hysteresis loop: remanence", "A/m"),
        coercive=Column(9, "hysteresis loop: coercive field", "A/m"),
        loss=Column(10, "hysteresis loop: loss of a cycle", "J/m3"),
    ),
    "JA_CLOSED": table(
        "closed forms; Jiles, Thoelke, Devine 1992",
        anhysteretic=Column(4, "initial susceptibility of the anhysteretic curve"),
        virgin=Column(5, "initial susceptibility of the virgin curve"),
    ),
    "STEEL_MUR_B": table("Roschke 2000, form and coefficients published", mu_r=Column(7, "permeability of {0} at {6} T")),
}

MAGNETICS = WIRE | INDUCTANCE | RESISTANCE | RINGS | POWDERS | HYSTERESIS
