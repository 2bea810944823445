# SPDX-License-Identifier: GPL-3.0-or-later
"""The store of sweeps and maps: every finished point in one database file."""
