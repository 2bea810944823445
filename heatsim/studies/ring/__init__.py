# SPDX-License-Identifier: GPL-3.0-or-later
"""`ring`: an unknown ring identified from its bench test."""
