# SPDX-License-Identifier: GPL-3.0-or-later
"""`match`: a captured waveform reproduced, and its causes ranked."""
