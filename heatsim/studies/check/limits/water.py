# SPDX-License-Identifier: GPL-3.0-or-later
"""Limits of the coil's water: how warm it leaves, and that the hottest wall does not boil it; and what follows without it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from heatsim.parts.heater import Heater
from heatsim.physics.water import saturation_temperature
from heatsim.quantity import format_quantity
from heatsim.studies.check.limits.base import JudgedCase, Measures
from heatsim.verdict import Limit

UNJUDGED = 50.0
"""Loss in coil and leads [W] above which it is told that nothing of their cooling was judged; a working value: half a metre of bare
6 mm tube gives off some 5 W in still air at 80 °C."""

UNHEATED = "the losses of the coil could not be read from the run"


def outlet(case: JudgedCase) -> Limit | None:
    """Temperature of the water where it leaves the coil; None without [coil.cooling]."""
    water = case.heater.water
    if water is None:
        return None
    wanted = f"{format_quantity(case.number('coil.water_flow_wanted_m3_per_s'), 'm3/s')} warm it by {water.wanted_rise:g} K"
    return Limit(
        "coil",
        "water temperature at the outlet",
        "coil.water_outlet_c",
        water.outlet_limit,
        "°C",
        "estimate",
        cause=f"The water takes up {format_quantity(case.number('coil.water_heat_w'), 'W')} on its way through the coil.",
        remedy=f"Raise the flow ({wanted}), use a larger radiator, or lower the supply voltage.",
        unknown=UNHEATED if "coil.water_outlet_c" not in case.measures else "",
    )


def wall(case: JudgedCase) -> Limit | None:
    """The hottest wall of the bore against the temperature at which the water boils there; None without [coil.cooling]."""
    water = case.heater.water
    if water is None:
        return None
    return Limit(
        "coil",
        "hottest wall against boiling",
        "coil.wall_temperature_c",
        saturation_temperature(water.outlet_pressure),
        "°C",
        "estimate",
        cause="The water boils at the hottest place of the tube: bubbles and scale block the flow.",
        remedy="Raise the flow, the pressure or the bore of the tube, cool the water, or lower the supply voltage.",
        unknown=UNHEATED if "coil.wall_temperature_c" not in case.measures else "",
    )


def water_cautions(heater: Heater, measures: Measures, cases: Sequence[Measures] = ()) -> Iterator[str]:
    """That the cooling is not judged, or what happens when the pump fails.

    cases: measures of all that were checked; the time until it is dry and hot is told of the worst one alone
    """
    losses = [measures.get(f"loss.{part}_w") for part in ("coil", "leads")]
    lost = sum(each for each in losses if isinstance(each, float))
    if heater.water is None:
        if lost > UNJUDGED:
            yield "The coil's cooling is not judged: give [coil.cooling]."
        return
    dry, until = measures.get("coil.dry_time_s"), format_quantity(heater.water.dry_temperature, "°C")
    if isinstance(dry, float):
        if any(isinstance(other := each.get("coil.dry_time_s"), float) and other < dry for each in cases):
            return
        yield (
            f"If the pump fails and the tube runs dry, its copper reaches {until} in {format_quantity(dry, 's', 2)}: let "
            "a flow switch stop the heater."
        )
    elif "coil.dry_time_s" in measures and lost > 0:
        yield "How long the coil lasts when the pump fails is not known: give coil.tube_diameter and coil.tube_wall."
