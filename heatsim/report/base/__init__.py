# SPDX-License-Identifier: GPL-3.0-or-later
"""What all reports share: style, words, files, terminal."""
