# SPDX-License-Identifier: GPL-3.0-or-later
"""The verification book: checks against something outside heatsim, noted by the tests that make them.

A test writes `assert found == listed("SKIN_DEPTH", "delta", row)` for a value of tests/support/references*.py, or
`assert found == known(expected, "what it is", "where it comes from", CLOSED, rel=1e-6)` for any other. Both compare as
pytest.approx does. Nothing is noted unless the environment names a folder for it; `python -m tests.support.book` does.
"""

from tests.support.book.note import CLOSED, COMMON, INDEPENDENT, MEMORY, PUBLISHED, Known, known, listed

__all__ = ["CLOSED", "COMMON", "INDEPENDENT", "MEMORY", "PUBLISHED", "Known", "known", "listed"]
