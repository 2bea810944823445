# SPDX-License-Identifier: GPL-3.0-or-later
"""`wind`: turns, stack and wire for the chokes, from what lies in the drawer."""
