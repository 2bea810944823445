# SPDX-License-Identifier: GPL-3.0-or-later
"""One browser for all the pages that a file of tests opens."""

from collections.abc import Iterator

import pytest

from tests.support.browser import shut


@pytest.fixture(scope="module", autouse=True)
def browser() -> Iterator[None]:
    """Ended with the file, if a page was opened."""
    yield
    shut()
