# SPDX-License-Identifier: GPL-3.0-or-later
"""Operating points, and the paths along which neighbouring ones are followed."""
