# SPDX-License-Identifier: GPL-3.0-or-later
"""What is shown of a map: the answer in words, a table, the picture."""
