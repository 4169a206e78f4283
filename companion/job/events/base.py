"""What all events have."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict


class Event(BaseModel):
    """Frozen; refuses keys it does not know, and numbers that are not finite.

    Attributes:
        heard: Number of the record of what was heard, where a call led to this.
        reviewed: Number of the record of the review that led to this; None at the bench.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

    heard: int | None = None
    reviewed: int | None = None


class Correctable(Event):
    """What a call told, and what may turn out to be something else.

    Attributes:
        corrects: Number of the record in whose place this one stands: another fact, of whatever
            kind, or the record of a call that was not understood.
    """

    corrects: int | None = None


def corrected_by(event: Event) -> int | None:
    """Return the number of the record in whose place an event stands; None where it is nothing that
    corrects, or corrects nothing. What class a model is of takes long to ask of a whole day."""
    corrects: int | None = event.__dict__.get("corrects")
    return corrects
