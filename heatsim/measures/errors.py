# SPDX-License-Identifier: GPL-3.0-or-later
"""By how much each measure may move when nothing but rounding differs: in linear algebra, or in the simulator's time steps.

Two runs of one circuit on two machines take slightly different time steps, come to rest at slightly different states, and see
each edge at other instants. What that does to each measure is stated here. The shares are some twice the largest difference
between seventeen runs of the 15 operating points of `tests.support.rounding` (seven kernels of OpenBLAS, supply voltages
changed by 1e-9 to 1e-7 of themselves), and 0.4 % for what moves by less. Where gates ring hard, how the steps fall into each
cycle of the ring matters more, and a gate may cross its threshold one swing sooner or later: the shares grow with the square of
the ring (`RINGING`; the largest difference was 7 shares at a ring of 14 % of the gate's peak, which makes 8.7 shares). Where a
record tells a standard error of its own, three of these are added. The shares of the chokes' loss above the direct one and of
the overshoot also hold what the two ways of `check` to a settled state differ by. The times in which a choke warms up are not
measured: 10 % is what 1.5 % of its loss makes of the time to 95 % of the rise it comes to. An error of the model or of the step
length, the same in all runs, is not in it.
"""

from __future__ import annotations

from collections.abc import Mapping
from fnmatch import fnmatchcase
from functools import cache

import numpy as np

from heatsim.measures.gather import SIDES, STANDARD, standard_error_key

OWN, ABSOLUTE, PERIOD = "", "1", "period"

ROUNDING: Mapping[str, tuple[float, str]] = {
    "tank.*harmonic_ratio*": (2.5e-4, ABSOLUTE),
    "tank.half_wave_asymmetry_ratio": (1.2e-3, ABSOLUTE),
    "tank.t*_ratio": (2.5e-4, ABSOLUTE),
    "tank.drift_ratio": (1e-3, ABSOLUTE),
    "tank.period_two_ratio": (1e-3, ABSOLUTE),
    "energy.imbalance_ratio": (4e-3, ABSOLUTE),
    "energy.stored_change_w": (1e-3, "supply.power_w"),
    "supply.ripple_current_a": (0.06, OWN),
    "gate.*.min_voltage_v": (4e-3, "gate.*.max_voltage_v"),
    "gate.*.fall_delay_s": (0.01, PERIOD),
    "gate.*.rise_delay_s": (1.5e-3, PERIOD),
    "gate.*.ringing_amplitude_v": (0.02, OWN),
    "gate.*.clamp_loss_w": (5e-4, "gate.*.pull_up_loss_w"),
    "gate.*.diode_reverse_current_a": (0.45, OWN),
    "gate.*.resistor_loss_w": (0.025, OWN),
    "gate.*.ringing_*": (0.01, OWN),
    "switch.*.turn_on_voltage_v": (2.6e-3, "drain.*.peak_voltage_v"),
    "switch.*.peak_current_a": (0.018, OWN),
    "switch.*.*_loss_w": (0.04, "switch.*.loss_w"),
    "switch.*.loss_w": (0.04, OWN),
    "switch.*.avalanche_energy_j": (0.1, OWN),
    "switch.*_c": (0.03, OWN),
    "switch.*_s": (0.1, OWN),
    "choke.*.*_current_a": (6e-3, "choke.*.peak_current_a"),
    "choke.*.current_density_a_per_m2": (8e-3, OWN),
    "choke.*.copper_dc_loss_w": (0.025, OWN),
    "choke.*.copper_hot_loss_w": (0.025, OWN),
    "choke.*.copper_ac_loss_w": (0.05, OWN),
    "choke.*.copper_loss_w": (0.015, OWN),
    "choke.*_s": (0.1, OWN),
    "loss.choke.*.copper_w": (0.015, OWN),
    "loss.strays_w": (0.08, OWN),
    "loss.switch.*_w": (0.04, OWN),
    "loss.*_w": (0.015, OWN),
    "conductor.*": (0.015, OWN),
    "coil.water_*": (0.015, OWN),
    "coil.*_margin_k": (0.015, OWN),
    "coil.dry_time_s": (0.015, OWN),
    "startup.*_device_peak_current_a": (0.018, OWN),
    "startup.time_s": (1.0, PERIOD),
    "startup.begin_s": (1.0, PERIOD),
    "tank.modulation_ratio": (1e-3, ABSOLUTE),
    "startup.overshoot_ratio": (0.01, ABSOLUTE),
    "*": (4e-3, OWN),
}
"""Pattern of a measure's key -> share, and of what: the measure itself, 1, the tank's period, or another measure (* is the side).
The first match holds. A list of numbers has one error, that of its largest."""

RINGING = 0.05
"""Amplitude of a gate's ring as a share of the gate's peak voltage [1] that makes every share twice as large."""

SIGMAS = 3.0
"""Standard errors in a stated error."""


@cache
def _share(key: str) -> tuple[float, str] | None:
    """Share and reference of a key, None for one without an error."""
    found = next((told for pattern, told in ROUNDING.items() if fnmatchcase(key, pattern)), None)
    if found is None or STANDARD in key or key.startswith("window."):
        return None
    side = next((word for word in key.split(".") if word in SIDES), "*")
    return found[0], found[1].replace("*", side) or key


def stated_errors(measures: Mapping[str, object]) -> dict[str, float]:
    """Key -> how much the measure may move [its unit], for every number that has such an error.

    measures: flat, SI, as `measure` gives them; `crest.KEY` and `valley.KEY` are treated as KEY
    """
    found = {}
    ring = max(_ring(measures, side) for side in SIDES)
    for key, value in measures.items():
        if not isinstance(value, float | list):
            continue
        instant, _, plain = key.partition(".") if key.startswith(("crest.", "valley.")) else ("", "", key)
        share = _share(plain)
        if share is not None:
            reference = _number(measures, f"{instant}.{share[1]}") or _number(measures, share[1])
            rounding = share[0] * (1.0 + (ring / RINGING) ** 2) * reference if np.isfinite(reference) else np.inf
            found[key] = rounding + SIGMAS * _number(measures, standard_error_key(key))
    return found


def _ring(measures: Mapping[str, object], side: str) -> float:
    """Amplitude of a gate's ring over the gate's peak voltage [1], 0 without."""
    peak = _number(measures, f"gate.{side}.max_voltage_v")
    return _number(measures, f"gate.{side}.ringing_amplitude_v") / peak if peak else 0.0


def _number(measures: Mapping[str, object], key: str) -> float:
    """The size of a measure, or of the largest in a list, 0 without; and of `ABSOLUTE` and `PERIOD`."""
    if key == PERIOD:
        return 1.0 / (_number(measures, "tank.frequency_hz") or np.inf)
    value = 1.0 if key == ABSOLUTE else measures.get(key)
    sizes = [abs(each) for each in (value if isinstance(value, list) else [value]) if isinstance(each, float)]
    return max(sizes, default=0.0)
