# SPDX-License-Identifier: GPL-3.0-or-later
"""A push-pull driver of the gates, as a scenario writes it."""

INTEGRATED = {
    "kind": "integrated",
    "source_resistance": "2 ohm",
    "sink_resistance": "1 ohm",
    "source_current": "3 A",
    "sink_current": "5 A",
}
