# SPDX-License-Identifier: GPL-3.0-or-later
"""What sweeps and maps write as JSON, held to the schema of its name and version."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from heatsim.report.base.plain import as_json
from heatsim.report.map import plain
from heatsim.report.sweep import status_data
from heatsim.scenario.scenario import Scenario
from heatsim.studies.map import operating_map
from heatsim.studies.store import Store
from heatsim.studies.sweep import SweepPlan, sweep
from tests.support.map_pools import FormulaPool, dead_below, island, two_limits
from tests.support.pools import Instant

SCHEMAS = Path(__file__).parents[1] / "support" / "json_schemas"


@pytest.fixture(scope="module")
def heater(checkout: Path) -> Scenario:
    return Scenario.from_file(checkout / "scenarios" / "bench-heater.toml")


def assert_valid(data: Any, name: str) -> dict[str, Any]:
    """Data, as it is written, against a schema; returns what is read back."""
    written = json.loads(as_json(data))
    schema = json.loads((SCHEMAS / f"{name}.json").read_text())
    jsonschema.Draft202012Validator(schema).validate(written)
    return written


def test_sweeps_and_what_a_store_holds(heater: Scenario, tmp_path: Path) -> None:
    path = tmp_path / "points.db"
    plans = [
        SweepPlan.read(heater, ["supply.voltage = 10 V to 60 V in 11", "choke.core.material = fe-si-al-60, mpp-60"]),
        SweepPlan.read(heater, tolerance=["gate.resistor = 5 %", "supply.voltage = 1 V"], cases=["loaded"], samples=8),
    ]
    for plan in plans:
        made = assert_valid(sweep(heater, plan, path, Instant()).as_dict(), "sweep")
        assert made["total"] == made["done"] == len(plan)
    assert assert_valid(sweep(heater, plans[0], path, Instant()).as_dict(), "sweep")["evaluated"] == 0
    with Store.open(path) as store:
        told = assert_valid(status_data(path, store.sweeps()), "sweeps")
    assert [one["current"] for one in told["sweeps"]] == [True, True]


def test_the_status_of_a_store_from_before_versions_were_noted(version_1: Path) -> None:
    with Store.open(version_1, create=False) as store:
        assert_valid(status_data(version_1, store.sweeps()), "sweeps")


@pytest.mark.parametrize("formula", [two_limits, dead_below, island, lambda load, volts: "dead"])
def test_maps(heater: Scenario, formula) -> None:
    load, volts = "load = 0 % to 100 %", "supply.voltage = 20 V to 60 V"
    made = operating_map(heater, load, volts, FormulaPool(formula), accuracy=0.02, most_points=60)
    assert len(assert_valid(plain(made), "map")["points"]) == len(made.evidence.samples)


@pytest.mark.parametrize("name", ["sweep", "sweeps", "map"])
def test_the_schemas_refuse_what_is_not_theirs(name: str) -> None:
    schema = json.loads((SCHEMAS / f"{name}.json").read_text())
    jsonschema.Draft202012Validator.check_schema(schema)
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate({"schema": f"heatsim.{name}/2"}, schema)
