# SPDX-License-Identifier: GPL-3.0-or-later
"""Which values of a parametrised test guard a change, and which a release."""

from __future__ import annotations

from collections.abc import Iterable

import pytest


def quick_of(values: Iterable, *quick: object) -> list:
    """The values of a parametrised test; all but those of `quick` are marked slow."""
    return [value if value in quick else _slow(value) for value in values]


def _slow(value: object) -> object:
    """One value of the release layer."""
    return pytest.param(*(value if isinstance(value, tuple) else (value,)), marks=pytest.mark.slow)
