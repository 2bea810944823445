# SPDX-License-Identifier: GPL-3.0-or-later
"""`python -m heatsim`."""

import sys

from heatsim.cli import main

sys.exit(main())
