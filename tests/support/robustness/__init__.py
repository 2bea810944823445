# SPDX-License-Identifier: GPL-3.0-or-later
"""Damaged input and long use, in numbers."""
