# SPDX-License-Identifier: GPL-3.0-or-later
"""Published and computed check values: eddy heating, heat, capacitors, ampacity, MOSFETs.

Provenance of each list, in its comment: [F] read in the page named; [C] evaluated from the closed form (25 digits);
[M] from memory, not verified: a failing test is a question about the value first. SI unless a unit is named. The last
field of a row is its tolerance where the columns say so.
"""

# fmt: off


# 9 Eddy heating of cylinder and tube in axial field
CYL_FPQ = [
    # Columns: a/delta, F, P, Q, rtol
    # [C]
    (0.1, 0.0002499971355, 0.002499971355, 0.9999916668, 1e-7),
    (0.3, 0.006743741212, 0.02247913737, 0.9993256486, 1e-7),
    (0.7, 0.08345665991, 0.1192237999, 0.9805462213, 1e-7),
    (1.0, 0.2244102659, 0.2244102659, 0.9255056536, 1e-7),
    (1.5, 0.5386583611, 0.3591055741, 0.7361197998, 1e-7),
    (2.0, 0.7386167461, 0.369308373, 0.5365336614, 1e-7),
    (3.0, 0.8334669765, 0.2778223255, 0.3355267353, 1e-7),
    (5.0, 0.89758615, 0.17951723, 0.2006371524, 1e-7),
    (10.0, 0.9493810169, 0.09493810169, 0.10006922, 1e-7),
    (20.0, 0.9748440889, 0.04874220445, 0.05000821826, 1e-7),
    (50.0, 0.9899750081, 0.01979950016, 0.02000051016, 1e-7),
]
CYL_POWER = [
    # Columns: radius m, len m, rho, mu_r, f Hz, Hrms A/m, P W, rtol
    # [C] no end effect
    (0.01, 0.05, 2.19e-7, 50, 80000, 20000, 2323.1285, 1e-6),
    (0.005, 0.04, 1.1e-6, 1, 100000, 20000, 276.01748, 1e-6),
]
TUBE_HEAT = [
    # Columns: a, b, delta (same unit), mu_r, F, |Hi/H0|, rtol
    # [C]
    (10, 8, 1, 1, 0.910032984, 0.0467440843, 1e-6),
    (10, 9, 1, 1, 1.08582654, 0.106178478, 1e-6),
    (10, 9.5, 1, 1, 1.94468072, 0.203975451, 1e-6),
    (10, 9, 1, 100, 0.804143849, 0.75885819, 1e-6),
]

# 10 Steel and heat loss
EN_STEEL = [
    # Columns: T degC, c J/kgK, lambda W/mK, rtol
    # [C] from the formulas
    (20, 439.80176, 53.334, 1e-5),
    (200, 529.76, 47.34, 1e-5),
    (400, 605.88, 40.68, 1e-5),
    (599, 758.7797, 34.0533, 1e-5),
    (650, 813.75, 32.355, 1e-5),
    (720, 1388.3333, 30.024, 1e-5),
    (735, 5000.0, 29.5245, 1e-5),
    (800, 803.26087, 27.3, 1e-5),
    (1000, 650.0, 27.3, 1e-5),
]
EN_ENTHALPY = [
    # Columns: T degC, integral c dT from 20 degC J/kg, rtol
    # [C]
    (300, 142920.32, 1e-5),
    (700, 419106.08, 1e-5),
]
STEEL_RHO_T = [
    # Columns: T degC, resistivity ohm*m, lambda, c(mean 20-T), density, rtol 2 %
    # 0.2 % C steel (GOST 20). 100..400 degC [F] https://www.russian-metals.com/20X ; 20 and >=600 rows,
    # resistivity [M] (BISRA/Smithells 0.23 % C series)
    (20, 1.69e-7, 52, None, 7859),
    (100, 2.19e-7, 50.6, 486, 7834),
    (300, 3.81e-7, 46.2, 514, 7770),
    (600, 7.58e-7, None, None, None),
    (800, 1.094e-6, None, None, None),
]
STEEL_CONST = [
    # Columns: name, value, rtol
    # [M] handbooks (Incropera App. A; CRC): oxidised steel emissivity 0.79-0.8, polished 0.07-0.1; EN
    # 1991-1-2/1993-1-2 fire value 0.7; 0.2 % C steel Ac1=724, Ac3=845 degC [F] russian-metals page
    ("Curie iron degC", 770, 0.003),
    ("emissivity EN 1993-1-2", 0.7, 0),
    ("emissivity oxidised", 0.8, 0.1),
    ("sigma_SB", 5.670374419e-8, 1e-9),
]
CHURCHILL_CHU = [
    # Columns: Ra, Pr, Nu, rtol
    # [C]
    (10000, 0.707, 4.3712184, 1e-6),
    (1000000, 0.7, 14.510191, 1e-6),
    (1000000000, 0.7, 115.52937, 1e-6),
]
CONV_EXAMPLE = [
    # Columns: D m, Ts C, Tair C, nu, alpha or Pr, k, beta, eps, expected dict, rtol
    # printed worked examples; see the comment in each row
    (0.1, 170, 30, 23.13e-6, 0.7, 0.0325, 1/373, 0, {"Gr":6.884e6,"Nu_McAdams(0.53*Ra^0.25)":24.832,"h":8.07,"Q_4m":1419.8}, 2e-3),
]
    # CONV_EXAMPLE row [F] http://msubbu.in/problems/HeatTransfer/HeatLossbyConvectiontoAir.html
RADIATION = [
    # Columns: T K, Tamb K, eps, W/m2, rtol
    # [C]
    (500, 300, 1, 3084.68368, 1e-6),
    (1073.15, 293.15, 0.8, 59829.9211, 1e-6),
]
CYL_RAMP = [
    # Columns: surface flux W/m2, radius m, k W/mK, Tsurface-Tcentre K, rtol
    # [C] long cylinder, constant flux, after the initial transient: q*a/(2k) (Carslaw & Jaeger 7.8)
    (1e5, 0.01, 30, 16.666667, 1e-6),
]

# 12 Film capacitors
TAN_DELTA = [
    # Columns: dielectric, f Hz, tan delta, factor
    # [F] http://ceemulti.in/Home/Technicalities (comparison chart, 1e-4 units; treat as typical/maximum,
    # factor 2 band)
    ("PP", 1000, 1e-4, 2),
    ("PP", 100000, 2e-4, 2),
    ("PET", 10000, 110e-4, 2),
]
CAP = [
    # Columns: C F, Vrms, f Hz, tan d, Irms A, ESR ohm, P W, dv/dt V/us, rtol
    # [C]
    (2e-6, 53.3, 100000, 5e-4, 66.9787554, 0.000397887358, 1.78498383, 47.3611321, 1e-6),
]

# 13 Ampacity and fusing
IPC2221 = [
    # Columns: k, dT K, width mil, thick mil, I A, rtol
    # [C] (row 1 also printed as 0.884 A with rounded powers on that page [F], allow 3e-3 there)
    (0.048, 10, 10, 1.378, 0.885517, 1e-5),
    (0.048, 20, 100, 2.756, 10.54137, 1e-5),
    (0.024, 10, 10, 1.378, 0.4427585, 1e-5),
]
ONDERDONK = [
    # Columns: A cmil, t s, Tmelt-Ta K, Ta C, I A, rtol
    # [C]. A posted example
    # (https://www.physicsforums.com/threads/current-temperature-equation.364495/post-2503480: 2581 cmil,
    # 5 s, 178 A) uses 234-Ta by mistake; the right value is row 1
    (2581, 5, 1058, 25, 168.8637, 1e-5),
    (10380, 1, 1058, 25, 1518.556, 1e-5),
]
PREECE = [
    # Columns: d inch, I A, rtol
    # [C]; row 1 printed as 123 A [F] same post
    (0.0524, 122.8758, 1e-5),
    (0.0320, 58.64008, 1e-5),
]

# 14 MOSFET
RDSON_T = [
    # Columns: Tj K, ratio to 300 K, rtol
    # [C] from the 2.3 power
    (373.15, 1.6517832, 1e-6),
    (423.15, 2.2057592, 1e-6),
]
MOS1 = [
    # Columns: Kp, Vto, lambda, Vgs, Vds, Id A, rtol
    # [C] with the 200 V, 20 A part of that library (Kp 5.9, Vto 4, lambda 1e-3; Rd 61 mohm, Rs 18 mohm,
    # Cgdmax 2.45 nF, Cgdmin 10 pF, a 0.3, Cgs 1.2 nF, Rthjc 0.4 K/W) [F]
    (5.9, 4, 0.001, 10, 1, 32.48245, 1e-6),
    (5.9, 4, 0.001, 6, 10, 11.918, 1e-6),
]
VDMOS_CGD = [
    # Columns: Cgdmax F, Cgdmin F, a 1/V, Vgd V, Cgd F, rtol
    # [C] from the [M] formula; end limits Cgdmax/Cgdmin exact
    (2.45e-9, 10e-12, 0.3, 5, 2.3599741e-9, 1e-5),
    (2.45e-9, 10e-12, 0.3, -10, 3.1538061e-10, 1e-5),
]
FOSTER = [
    # Columns: P W, [R K/W], [tau s], t s, dT K, rtol
    # [C]
    (20, [0.1,0.3], [1e-3,2e-2], 5e-3, 3.31371941, 1e-7),
]
LUMPED_HEAT = [
    # Columns: P W, m*c J/K, h*A W/K, t s, T-Tamb K, rtol
    # [C] (P/hA)(1-exp(-t hA/mc)), constant properties
    (100, 50, 0.2, 60, 106.686069, 1e-7),
]
