# SPDX-License-Identifier: GPL-3.0-or-later
"""Response surfaces without the simulator."""

from __future__ import annotations

from dataclasses import fields
from pathlib import Path

import numpy as np

from heatsim.scenario.scenario import Scenario
from heatsim.studies.match.faults import fault_models, nuisance_parameters
from heatsim.studies.match.response_library import ResponseLibrary, ResponseSurface
from heatsim.studies.match.result import Measure, Record
from heatsim.studies.match.study import with_missing

ROOT = Path(__file__).resolve().parents[3]
BENCH = Scenario.from_file(ROOT / "scenarios" / "bench-heater.toml")


def test_a_response_surface_reaches_another_process_whole() -> None:
    """Its plain form holds every field but the fault, in their order: one was once left behind."""
    fault = fault_models(BENCH.heater("loaded"))[0]
    rest = [f"value of {each.name}" for each in fields(ResponseSurface) if each.name != "fault"]
    assert ResponseSurface(fault, *rest).plain == tuple(rest)


def test_faults_stand_for_nuisance_parameters_that_there_are() -> None:
    names = {parameter.name for parameter in nuisance_parameters(BENCH.heater("loaded"))}
    for each in fault_models(BENCH.heater("loaded")):
        assert names.issuperset(each.replaces), each.name


def test_fault_models_that_could_not_be_simulated_are_named_and_noted() -> None:
    """A surface that a worker lost is said, not passed over: the cause it belongs to was not tried."""
    heater = BENCH.heater("loaded")
    faults = fault_models(heater)
    lost = "both chokes saturate"
    surfaces = {each.name: ResponseSurface(each, (), np.zeros(1), np.ones((), bool), ()) for each in faults if each.name != lost}
    library = ResponseLibrary(heater, (), (), None, np.zeros(1), np.zeros(1), np.zeros(1), surfaces)
    assert library.missing == (lost,)
    record = Record("capture.csv", "loaded", 42.0, {}, Measure(85e3, 1.0), 20.0, {}, None, {}, ("thinned",))
    assert with_missing(record, ()) is record
    first, last = with_missing(record, library.missing).notes
    assert first == "thinned" and lost in last
