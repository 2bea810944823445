# SPDX-License-Identifier: GPL-3.0-or-later
"""What is shown of a winding: tables, picture, winding card."""
