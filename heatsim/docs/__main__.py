# SPDX-License-Identifier: GPL-3.0-or-later
"""`python -m heatsim.docs`: build the documentation into `results/docs`, or into the folder that is named."""

import sys
from pathlib import Path

from heatsim.docs.build import TARGET, build

sys.exit(build(Path(sys.argv[1]) if len(sys.argv) > 1 else TARGET))
