# SPDX-License-Identifier: GPL-3.0-or-later
"""Which fuse interrupts a latch before the silicon dies. Guidance: fuses are chosen by people licensed for it, by local codes."""

from __future__ import annotations

from collections.abc import Iterator

from heatsim.quantity import format_quantity
from heatsim.studies.check.limits.base import JudgedCase
from heatsim.verdict import Limit

CAUTION = (
    "Fuse results are guidance only: printed figures scatter, include the arc only where they are clearing figures at this "
    "DC voltage, and hold for some 10 ms. Leave the choice of fuses and wiring to people licensed for it, under local codes."
)


def fuse_limits(case: JudgedCase) -> Iterator[Limit]:
    """The fuse in the supply's lead against what the silicon stands, where the scenario says what its supply is."""
    source, switch = case.heater.supply.source, case.heater.switch
    if source is None:
        return
    saving = case.measures.get("latch.saving_i2t_a2s")
    missing = "the fuse is not given" if source.fuse_i2t is None else ""
    yield Limit(
        "supply",
        "fuse against what silicon can take in a latch",
        "latch.fuse_i2t_a2s",
        saving,
        "A2s",
        "rating",
        cause="The silicon is past what it can take before the fuse clears.",
        remedy="Use a fuse that lets less through, a breaker that acts on the current, or more devices in parallel.",
        unknown=missing
        or ("what the silicon can take is not given" if switch.i2t is None else "the current does not flow for long"),
        settle="Give the fuse's let-through (supply.source.fuse_i2t) and what a device can take (switch.i2t).",
    )
    if source.fuse_rating is not None:
        rating = format_quantity(source.fuse_rating, "A")
        yield Limit(
            "supply",
            "current that blows the fuse in a latch",
            "supply.mean_current_a",
            source.fuse_rating,
            "A",
            "rating",
            lower=True,
            cause=f"The latched current stays below what a {rating} fuse carries indefinitely: the fuse never blows.",
            remedy="Use a smaller fuse, or switch the supply off on over-current or when no oscillation is seen.",
        )
    if switch.pulse_current is not None:
        yield Limit(
            "switch",
            "pulse current until the fuse clears",
            "latch.cleared_current_a",
            switch.pulse_current,
            "A",
            "rating",
            cause="A device carries more than its pulse rating before the fuse clears.",
            remedy="Use a fuse that lets less through, or more devices in parallel.",
            unknown="the fuse is not given",
            settle="Give the fuse's let-through (supply.source.fuse_i2t).",
        )
