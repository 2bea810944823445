# SPDX-License-Identifier: GPL-3.0-or-later
"""Captured waveforms: an oscilloscope's file read by its content, and what is wrong with it.

`read_capture` reads one record of a file; `Probe` says what the file does not.
"""

from heatsim.waves.capture.capture import Capture, Channel, Probe, read_capture
from heatsim.waves.capture.levels import code_width, local_noise

__all__ = ["Capture", "Channel", "Probe", "code_width", "local_noise", "read_capture"]
