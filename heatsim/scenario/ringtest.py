# SPDX-License-Identifier: GPL-3.0-or-later
"""The bench test of an unknown ring: what its file may say, and reading it.

A test file describes the ring, the turns on it and one or more measurements: [lcr], one small-signal reading; [bias],
readings at several direct currents; [ramp], a captured current under a known or recorded voltage.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

from pydantic import Field

from heatsim.errors import InputError
from heatsim.files import shown_path
from heatsim.parts.ring import RingCore
from heatsim.parts.winding import Winding
from heatsim.physics.conductor import enamelled_diameter
from heatsim.physics.ringcore import PathConvention, RingSize
from heatsim.scenario.problems import Fault, refuse, validated
from heatsim.scenario.ramp import RampCapture, read_ramp
from heatsim.scenario.schema.fields import FileName, Name, Table, Unit, WireUnit
from heatsim.scenario.source import Places, parse_toml, read_text

Share = Annotated[float, Unit("%", 0.0, 0.3)]


class RingTable(Table):
    """[ring]: the core as callipers see it."""

    name: Name
    outer_diameter: Annotated[float, Unit("m", 3e-3, 0.5)]
    inner_diameter: Annotated[float, Unit("m", 1e-3, 0.4)]
    height: Annotated[float, Unit("m", 5e-4, 0.2)]
    stack: Annotated[int, Field(strict=True, ge=1, le=8)] = 1
    accuracy: Annotated[float, Unit("m", 0, 2e-3)] = Field(
        1e-4, description="limit of error of each dimension; 0.1 mm for callipers on a coated ring: common practice"
    )
    path_rule: PathConvention = Field("logarithmic", description="which path length permeability and field are given for")
    path_length: Annotated[float, Unit("m", 2e-3, 2)] | None = Field(None, description="as printed; else computed")
    area: Annotated[float, Unit("m2", 1e-7, 1e-2)] | None = Field(None, description="of one ring, as printed")


class WindingTable(Table):
    """[winding]: the test winding, spread evenly round the ring."""

    turns: Annotated[int, Field(strict=True, ge=1, le=2000)]
    wire_diameter: Annotated[float, WireUnit("m", 2e-5, 0.01)] | None = Field(None, description="bare copper, or a gauge")
    strands: Annotated[int, Field(strict=True, ge=1, le=1000)] = 1
    resistance: Annotated[float, Unit("ohm", 1e-6, 100)] | None = Field(None, description="at direct current")
    resistance_accuracy: Share = 0.05


class LcrTable(Table):
    """[lcr]: one reading at small signal and without direct current."""

    inductance: Annotated[float, Unit("H", 1e-9, 10)]
    frequency: Annotated[float, Unit("Hz", 1, 5e6)]
    accuracy: Share = Field(0.01, description="limit of error of the meter")
    resistance: Annotated[float, Unit("ohm", 1e-6, 1e5)] | None = Field(None, description="series, at that frequency")


class BiasTable(Table):
    """[bias]: differential inductance at several direct currents."""

    readings: Annotated[
        list[tuple[Annotated[float, Unit("A", 0, 5000)], Annotated[float, Unit("H", 1e-9, 10)]]],
        Field(min_length=3, max_length=500),
    ]
    accuracy: Share = Field(0.01, description="limit of error of the meter, common to all readings")
    scatter: Share | None = Field(None, description="standard deviation of a reading; else found from the readings")


class RampTable(Table):
    """[ramp]: the captured current under a voltage step, the choke without current before it."""

    file: FileName | None = None
    voltage: Annotated[float, Unit("V", 1e-3, 5000)] | None = Field(
        None, description="of the step behind all resistance; not needed where the capture has a voltage column"
    )
    resistance: Annotated[float, Unit("ohm", 0, 100)] | None = Field(
        None, description="in series: winding, shunt, switch, source; left out, it is found from the ramp"
    )
    resistance_accuracy: Share = 0.05
    shunt: Annotated[float, Unit("ohm", 1e-6, 100)] | None = Field(None, description="the current column is in volts across this")
    bits: Annotated[int, Field(strict=True, ge=4, le=24)] | None = Field(None, description="of the oscilloscope")
    full_scale: Annotated[float, Unit("A", 1e-4, 20000)] | None = Field(
        None, description="current from the lowest to the highest code; goes with bits"
    )
    noise: Annotated[float, Unit("A", 0, 1000)] | None = Field(None, description="rms; else found from the capture")
    current_accuracy: Share | None = Field(None, description="limit of gain error of probe and oscilloscope")
    voltage_accuracy: Share | None = Field(None, description="limit of error of the voltage")


class RingTestTables(Table):
    """A whole test file."""

    ring: RingTable
    winding: WindingTable
    lcr: LcrTable | None = None
    bias: BiasTable | None = None
    ramp: RampTable | None = None


@dataclass(frozen=True)
class RingTest:
    """A bench test. label: file name for messages; tables: its content; capture: the ramp's samples or None."""

    label: str
    tables: RingTestTables
    capture: RampCapture | None = None

    @classmethod
    def from_file(cls, path: str | Path, capture: str | Path | None = None) -> RingTest:
        """Read and validate a test file.

        path: the file
        capture: takes the place of the file named in [ramp]
        Raises InputError with everything wrong with the file, or with the first row wrong in the capture.
        """
        where = Path(path)
        text = read_text(where, "a ring test file in TOML")
        test, place = cls.from_text(text, shown_path(path)), Places(shown_path(path), text)
        ramp = test.tables.ramp
        if ramp is None:
            if capture is None:
                return test
            raise InputError.single(
                place("ramp"), "is missing, but a capture was named", shown_path(capture), "[ramp] with the voltage of the step"
            )
        if capture is None and ramp.file is None:
            raise InputError.single(place("ramp", "file"), "is missing", allowed="a CSV file, here or after FILE")
        if capture is not None:
            found = read_ramp(Path(capture), ramp.shunt)
        else:
            found = read_ramp(where.parent / str(ramp.file), ramp.shunt, place("ramp", "file"))
        if found.voltage is None and ramp.voltage is None:
            fault = "is missing, and the capture has no voltage column"
            raise InputError.single(place("ramp", "voltage"), fault, allowed='the voltage of the step, such as "12 V"')
        return cls(test.label, test.tables, found)

    @classmethod
    def from_text(cls, text: str, label: str = "ring test") -> RingTest:
        """The same from a text already read, without the capture."""
        where = Places(label, text)
        tables = validated(RingTestTables, parse_toml(text, label), where)
        refuse(where, _contradictions(tables))
        return cls(label, tables)

    @property
    def name(self) -> str:
        """The ring's name."""
        return self.tables.ring.name

    @property
    def size(self) -> RingSize:
        """One ring [m]."""
        ring = self.tables.ring
        return RingSize(ring.outer_diameter, ring.inner_diameter, ring.height)

    def ring(self, convention: PathConvention | None = None, size: RingSize | None = None) -> RingCore:
        """The stack by a path convention (the file's own unless named); printed length and area win for the file's."""
        table = self.tables.ring
        own = convention is None or convention == table.path_rule
        return RingCore.from_size(
            size or self.size, table.stack, convention or table.path_rule, table.path_length if own else None, table.area
        )

    @property
    def winding(self) -> Winding:
        """Turns and wire; a wire of no thickness where none is given."""
        table = self.tables.winding
        bare = table.wire_diameter or 0.0
        return Winding(table.turns, table.strands, bare, float(enamelled_diameter(bare, 2)) if bare else 0.0)


def _contradictions(tables: RingTestTables) -> list[Fault]:
    """Faults that lie in more than one field, as `refuse` takes them."""
    ring, winding, ramp = tables.ring, tables.winding, tables.ramp
    outer, inner, bare = ring.outer_diameter, ring.inner_diameter, winding.wire_diameter
    coarse = 4 * ring.accuracy >= min(ring.height, abs(outer - inner))
    currents = [current for current, _ in tables.bias.readings] if tables.bias else []
    half = ramp is not None and (ramp.bits is None) != (ramp.full_scale is None)
    below = f"below {1e3 * outer:.4g} mm", f"below {0.9e3 * inner:.3g} mm"
    size = "is too coarse for a ring of this size", "", "less than a quarter of height and wall"
    return [
        (inner >= outer, ("ring", "inner_diameter"), "must be below outer_diameter", "", below[0]),
        (coarse, ("ring", "accuracy"), *size),
        (bare is not None and bare >= 0.9 * inner, ("winding", "wire_diameter"), "does not pass the bore", "", below[1]),
        (not (tables.lcr or tables.bias or ramp), (), "has no measurement", "", "one or more of [lcr], [bias], [ramp]"),
        (len(set(currents)) != len(currents), ("bias", "readings"), "has a current twice", "", "each current once"),
        (half, ("ramp", "bits"), "goes together with full_scale", "", "both or neither"),
    ]


__all__ = ["RampCapture", "RingTest", "RingTestTables"]
