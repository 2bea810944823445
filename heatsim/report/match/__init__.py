# SPDX-License-Identifier: GPL-3.0-or-later
"""What is shown of a match: text, page, pictures."""
