# SPDX-License-Identifier: GPL-3.0-or-later
"""Where a figure of a part or a material comes from."""

from __future__ import annotations

from typing import Literal

Provenance = Literal["published", "measured", "common practice", "memory"]
