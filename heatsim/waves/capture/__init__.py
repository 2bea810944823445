# SPDX-License-Identifier: GPL-3.0-or-later
"""Captured waveforms: an oscilloscope's file read by its content, and what is wrong with it."""
