# SPDX-License-Identifier: GPL-3.0-or-later
"""Field types of scenario files: quantities with units and bounds, and names of a safe alphabet."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from heatsim.parts.gauge import WIRES, read_wire
from heatsim.quantity import EXAMPLES, QuantityError, format_quantity, parse_quantity

NAME_PATTERN = r"^[A-Za-z0-9][A-Za-z0-9 ._,+()/-]{0,79}$"
"""What a text field may hold: one line, letters, digits and a few signs; nothing a simulator could read as a command."""

MODEL_PATTERN = r"^[A-Za-z][A-Za-z0-9_]{0,39}$"
CASE_PATTERN = r"^[a-z][a-z0-9_-]{0,30}$"
LINE_PATTERN = r"^[^\x00-\x1f\x7f-\x9f\u2028\u2029]+$"

PATTERNS = {
    NAME_PATTERN: "one line of letters, digits, spaces and . _ , + ( ) / -, at most 80 in all, a letter or digit first",
    MODEL_PATTERN: "letters, digits and _, at most 40 in all, a letter first",
    LINE_PATTERN: "one line of text",
    CASE_PATTERN: "small letters, digits, _ and -, at most 31 in all, a letter first",
}
"""Each alphabet in words."""

Name = Annotated[str, Field(pattern=NAME_PATTERN)]
Line = Annotated[str, Field(pattern=LINE_PATTERN, max_length=300)]
FileName = Annotated[str, Field(min_length=1, max_length=400)]
Count = Annotated[int, Field(strict=True, ge=1, le=200)]


class Table(BaseModel):
    """A table of the file: unknown keys are errors, nothing is changed once read."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


@dataclass(frozen=True)
class Unit:
    """Marks a float field as a quantity: a text such as "47 uH".

    unit: asked for; low, high: bounds [SI].
    """

    unit: str
    low: float
    high: float

    @property
    def allowed(self) -> str:
        """The range in words."""
        return f"{format_quantity(self.low, self.unit)} to {format_quantity(self.high, self.unit)}"

    @property
    def words(self) -> str:
        """Unit and range in words."""
        return f"a text with unit {self.unit}, {self.allowed}"

    def read(self, value: Any) -> float:
        """The number in SI; raises PydanticCustomError with what is allowed in its context."""
        try:
            number = self._number(value)
        except QuantityError as error:
            raise PydanticCustomError("quantity", "{what}", {"what": error.what, "allowed": self._forms(error)}) from None
        if not self.low <= number <= self.high:
            raise PydanticCustomError("quantity", "is out of range", {"allowed": self.allowed})
        return number

    def _number(self, value: Any) -> float:
        return parse_quantity(value, self.unit)

    def _forms(self, error: QuantityError) -> str:
        """What would have been read, in words."""
        return error.allowed

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.no_info_plain_validator_function(self.read)

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        return {"type": "string", "description": self._described, "examples": self._examples, "x-unit": self.unit}

    @property
    def _described(self) -> str:
        return f"{self.words}; inches and feet too" if self.unit == "m" else self.words

    @property
    def _examples(self) -> list[str]:
        return [EXAMPLES[self.unit], *(["3/8 in"] if self.unit == "m" else [])]


@dataclass(frozen=True)
class WireUnit(Unit):
    """Marks a bare diameter of a wire, which a gauge may say as well: "AWG 14" or "14 AWG"."""

    @property
    def words(self) -> str:
        """Unit, gauge and range in words."""
        return f'{super().words}, or a gauge such as "AWG 14"'

    def _number(self, value: Any) -> float:
        return read_wire(value)

    def _forms(self, error: QuantityError) -> str:
        return WIRES

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        return super().__get_pydantic_json_schema__(schema, handler) | {"x-gauge": True}

    @property
    def _examples(self) -> list[str]:
        return ["1.6 mm", "AWG 14", "1/16 in"]
