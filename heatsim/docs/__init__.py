# SPDX-License-Identifier: GPL-3.0-or-later
"""The documentation: pages in Markdown, and what writes the reference pages from the code.

`python3 heatsim/bootstrap.py docs` builds the site into `results/docs/html`. Pages and code here are of the checkout: they show its
scenarios, pictures and notes, and are not part of what is installed.
"""
