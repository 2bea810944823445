# SPDX-License-Identifier: GPL-3.0-or-later
"""Field types of scenario files: quantities with units and bounds, and names of a safe alphabet."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from heatsim.quantity import EXAMPLES, QuantityError, format_quantity, parse_quantity

NAME_PATTERN = r"^[A-Za-z0-9][A-Za-z0-9 ._,+()/-]{0,79}$"
"""What a text field may hold: one line, letters, digits and a few signs; nothing a simulator could read as a command."""

Name = Annotated[str, Field(pattern=NAME_PATTERN)]


class Table(BaseModel):
    """A table of the file: unknown keys are errors, nothing is changed once read."""

    model_config = ConfigDict(extra="forbid", frozen=True)


@dataclass(frozen=True)
class Unit:
    """Marks a float field as a quantity: a text such as "47 uH" with unit `unit`, from `low` to `high` (SI)."""

    unit: str
    low: float
    high: float

    @property
    def allowed(self) -> str:
        """The range in words."""
        return f"{format_quantity(self.low, self.unit)} to {format_quantity(self.high, self.unit)}"

    def read(self, value: Any) -> float:
        """The number in SI; raises PydanticCustomError with what is allowed in its context."""
        try:
            number = parse_quantity(value, self.unit)
        except QuantityError as error:
            raise PydanticCustomError("quantity", "{what}", {"what": error.what, "allowed": error.allowed}) from None
        if not self.low <= number <= self.high:
            raise PydanticCustomError("range", "is out of range", {"allowed": self.allowed})
        return number

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.no_info_plain_validator_function(self.read)

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        return {
            "type": "string",
            "description": f"a text with unit {self.unit}, {self.allowed}",
            "examples": [EXAMPLES[self.unit]],
            "x-unit": self.unit,
        }
