# SPDX-License-Identifier: GPL-3.0-or-later
"""Every notebook runs from top to bottom; each holds its own assertions. The one on `match` runs with that study's tests."""

import pytest

from tests.support.notebooks import MATCH, NOTEBOOKS, run


@pytest.mark.slow
@pytest.mark.timeout(900)
@pytest.mark.parametrize("path", [path for path in NOTEBOOKS if path != MATCH], ids=lambda path: path.stem)
def test_a_notebook_runs_and_its_assertions_hold(path):
    run(path)


def test_there_are_notebooks():
    assert MATCH in NOTEBOOKS and len(NOTEBOOKS) > 1
