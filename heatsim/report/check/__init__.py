# SPDX-License-Identifier: GPL-3.0-or-later
"""The report of a check: terminal, page, pictures, folder."""
