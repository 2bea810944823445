# SPDX-License-Identifier: GPL-3.0-or-later
"""A terminal for tests of what is printed."""

import io


class Screen(io.StringIO):
    """A terminal of a given encoding."""

    def __init__(self, encoding="utf-8", tty=True):
        super().__init__()
        self._encoding, self._tty = encoding, tty

    encoding = property(lambda self: self._encoding)

    def isatty(self):
        return self._tty
