# SPDX-License-Identifier: GPL-3.0-or-later
"""Parts of a heater as frozen classes in SI units, with their own electrical and thermal values.

`Heater` holds all parts of one case; chokes are wound from rings and materials, which a `Catalogue` names. The catalogues'
files are in `data/`; `heatsim.scenario` reads them.
"""

from heatsim.parts.catalogue import Catalogue
from heatsim.parts.choke import Choke, Core, wound_curve
from heatsim.parts.curves import Curve
from heatsim.parts.heater import Heater
from heatsim.parts.materials import Material
from heatsim.parts.ring import RingCore, RingEntry
from heatsim.parts.winding import Winding

__all__ = ["Catalogue", "Choke", "Core", "Curve", "Heater", "Material", "RingCore", "RingEntry", "Winding", "wound_curve"]
