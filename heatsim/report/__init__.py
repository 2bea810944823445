# SPDX-License-Identifier: GPL-3.0-or-later
"""Results made readable: a sub-package a study over a common base. Nothing here computes what a measure already says.

base: words, terminal, pages, pictures, files. Each sub-package has `terminal`, `folder` and, where there are pictures,
`picture` or `figures`; only these load the plotting library.
"""
