# SPDX-License-Identifier: GPL-3.0-or-later
"""`sweep`: many variants of a heater, planned and evaluated into a store."""
