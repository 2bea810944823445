# SPDX-License-Identifier: GPL-3.0-or-later
"""Results made readable: terminal, pictures, page and folder. Nothing here computes what a measure already says.

words and plain: sentences, labels, JSON; terminal: what the command line prints; style, traces, charts: pictures, axes
in and axes out; figures: which pictures a case has; page: report.html; folder: everything on disk.
Importing this package loads no plotting library; `style`, `traces`, `charts` and `figures` do.
"""
