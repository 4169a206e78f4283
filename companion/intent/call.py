"""What every intent is made of: exact decimals, quantities, and the name of the call."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import Annotated, Any, ClassVar

from pydantic import (
    AfterValidator,
    BaseModel,
    ConfigDict,
    GetJsonSchemaHandler,
    PlainSerializer,
    SerializerFunctionWrapHandler,
    model_serializer,
)
from pydantic.json_schema import JsonSchemaValue

from companion.files.figures import on_a_clock, within_count, within_measure
from companion.handbook.unit_table import SIUnit


def _plainly(value: Decimal) -> str:
    return format(value, "f")


Figure = Annotated[Decimal, AfterValidator(within_measure)]
"""A decimal that a bench could have: every one that is read from a file is checked against the
limits of ``companion.files.limits``."""

ExactDecimal = Annotated[
    Figure, PlainSerializer(_plainly, return_type=str, when_used="json-unless-none")
]
"""A figure that JSON holds as a string with every digit as spoken and never an exponent."""

Count = Annotated[int, AfterValidator(within_count)]
"""A whole number of a card or sheet."""

Moment = Annotated[datetime, AfterValidator(on_a_clock)]
"""A time with its offset from UTC, on a clock that a shop may have."""


class Model(BaseModel):
    """Frozen, and refuses keys it does not know."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class SI(Model):
    """A value in the coherent unit of its dimension.

    Attributes:
        value: As a float: for comparison and plotting; the exact value stands beside it.
        unit: That of the dimension.
    """

    value: float
    unit: SIUnit


class Call(Model):
    """What every intent has: its name, the first key in JSON."""

    intent: str


class PlainlyWritten(Call):
    """A call of which JSON holds only what was said.

    Attributes:
        unsaid: By field, the value that stands for nothing having been said of it.
    """

    unsaid: ClassVar[dict[str, Any]] = {}

    @model_serializer(mode="wrap")
    def _written(self, write: SerializerFunctionWrapHandler) -> dict[str, Any]:
        return {
            key: value
            for key, value in write(self).items()
            if key not in self.unsaid or value != self.unsaid[key]
        }

    @classmethod
    def __get_pydantic_json_schema__(
        cls, core_schema: Any, handler: GetJsonSchemaHandler
    ) -> JsonSchemaValue:
        # Of a serializer of its own pydantic only knows that it gives an object.
        plain = {key: value for key, value in core_schema.items() if key != "serialization"}
        return handler(plain)


class Quantity(Call):
    """A number with a unit, as spoken.

    Attributes:
        value: The exact decimal as spoken ("three eighths" is 0.375).
        unit: A unit's name from ``companion.handbook.units``, such as ``thou`` or ``foot pound``.
        si: The same in SI.
    """

    value: ExactDecimal
    unit: str
    si: SI
