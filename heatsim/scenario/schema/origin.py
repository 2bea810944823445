# SPDX-License-Identifier: GPL-3.0-or-later
"""Where the figures of a catalogue's table come from."""

from __future__ import annotations

from heatsim.parts.provenance import Provenance
from heatsim.scenario.schema.fields import Line, Table


class OriginTable(Table):
    """Where the figures of a table come from; every one must say so."""

    provenance: Provenance
    source: Line
