# SPDX-License-Identifier: GPL-3.0-or-later
"""Meter readings taken beside a capture, as further data of its fit.

A reading y of what the simulation makes m has the log likelihood -(ln y - ln m)^2/(2 s^2), s being its relative error: it stands
in the data vector of the capture in whose case and at whose supply voltage it was taken, and moves the nuisance parameters, the
fault's own and the ranking like any line.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from heatsim.errors import InputError
from heatsim.studies.match.data import with_meters
from heatsim.studies.match.fit import HypothesisFit
from heatsim.studies.match.hypothesis import Dataset, Model
from heatsim.studies.match.meter_reading import MeterReading, ReadingBeside
from heatsim.studies.match.metered import metered_keys


def refuse_others(conditions: Sequence[tuple[str, float]], readings: Sequence[MeterReading]) -> None:
    """Raises InputError for a reading that is of no capture's condition: case and supply voltage [V]."""
    for reading in readings:
        if (reading.case, reading.supply_voltage) not in conditions:
            allowed = "; ".join(f"{case} at {voltage:g} V" for case, voltage in dict.fromkeys(conditions))
            what = f"is of no captured condition: {reading.case} at {reading.supply_voltage:g} V"
            raise InputError.single("--reading", what, reading.text, allowed)


def datasets_with(
    datasets: Sequence[Dataset], conditions: Sequence[tuple[str, float]], readings: Sequence[MeterReading]
) -> list[Dataset]:
    """Datasets with the readings in them, each in the first of its condition.

    conditions: case and supply voltage [V] of each dataset
    """
    own: list[list[MeterReading]] = [[] for _ in datasets]
    for reading in readings:
        own[list(conditions).index((reading.case, reading.supply_voltage))].append(reading)
    return [_with(each, taken) if taken else each for each, taken in zip(datasets, own, strict=True)]


def _with(dataset: Dataset, readings: Sequence[MeterReading]) -> Dataset:
    keys = metered_keys(dataset.library.heater)
    places = [keys.index(each.key) for each in readings]
    logs, errors = [math.log(each.value) for each in readings], [each.error / each.value for each in readings]
    return replace(dataset, observation=with_meters(dataset.observation, places, logs, errors))


def readings_beside(
    datasets: Sequence[Dataset],
    conditions: Sequence[tuple[str, float]],
    readings: Sequence[MeterReading],
    fits: Sequence[HypothesisFit],
) -> tuple[ReadingBeside, ...]:
    """What each cause's best fit says of every reading. fits: best first."""
    best: dict[str, HypothesisFit] = {}
    for one in fits:
        best.setdefault(one.hypothesis.cause, one)
    said = {cause: _said(datasets, one) for cause, one in best.items()}
    found = []
    for reading in readings:
        k = list(conditions).index((reading.case, reading.supply_voltage))
        keys = metered_keys(datasets[k].library.heater)
        place = datasets[k].observation.layout.meters.index(keys.index(reading.key))
        expected = math.exp(float(datasets[k].meters(datasets[k].library.sound)[place]))
        fitted = {cause: math.exp(float(values[k][place])) for cause, values in said.items()}
        found.append(ReadingBeside(**vars(reading), expected=expected, fitted=fitted))
    return tuple(found)


def _said(datasets: Sequence[Dataset], one: HypothesisFit) -> list[np.ndarray]:
    """Logs of what the meters of each dataset would show of a fit."""
    model = Model(datasets, one.hypothesis, one.corrections)
    nuisance = one.nuisance[: len(model.names)]
    return [each.meters(model.packed(k, one.u, nuisance)) for k, each in enumerate(datasets)]
