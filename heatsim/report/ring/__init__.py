# SPDX-License-Identifier: GPL-3.0-or-later
"""What is shown of an identified ring."""
