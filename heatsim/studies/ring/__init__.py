# SPDX-License-Identifier: GPL-3.0-or-later
"""`ring`: an unknown ring identified from its bench test (`identify`).

The result holds permeability and saturation with intervals, and the catalogue materials that fit; `material_toml` and
`choke_toml` turn it into text that scenarios and catalogues read.
"""

from heatsim.studies.ring.candidates import MaterialMatch
from heatsim.studies.ring.export import choke_toml, material_toml
from heatsim.studies.ring.fit import predict
from heatsim.studies.ring.quantities import Quantity
from heatsim.studies.ring.study import SCHEMA, CurvePoints, RingResult, identify

__all__ = ["SCHEMA", "CurvePoints", "MaterialMatch", "Quantity", "RingResult", "choke_toml", "identify", "material_toml", "predict"]
