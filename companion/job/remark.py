"""What may be worth saying of a reading besides its verdict; kept with it in the log."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

from companion.intent.call import ExactDecimal, Moment


class RemarkModel(BaseModel):
    """Frozen; refuses keys it does not know."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class Changed(RemarkModel):
    """It is another than the machine read last time.

    Attributes:
        before: What it was, in the unit called now.
        by: How much it went up, in the unit called now; negative when it went down.
        at: When it was read last.
        days: How many days ago that was.
    """

    about: Literal["changed"] = "changed"
    before: ExactDecimal
    by: ExactDecimal
    at: Moment
    days: int


class Apart(RemarkModel):
    """It disagrees with the same measure called just before, or with another cylinder.

    Attributes:
        other: The other measure; None where the same was called before.
        value: What that read, in the unit called now.
        percent: How far apart, in percent of the higher of the two.
    """

    about: Literal["apart"] = "apart"
    other: str | None = None
    value: ExactDecimal
    percent: int


class EngineNotAsWanted(RemarkModel):
    """The sheet's figure holds for a cold engine and this one counts as hot, or the reverse."""

    about: Literal["engine"] = "engine"
    wanted: Literal["cold", "hot"]


class LastTime(RemarkModel):
    """The maker's figure is not known; this is what the machine read last time.

    Attributes:
        value: As it was called then, in ``unit``.
        at: When.
        days: How many days ago that was.
    """

    about: Literal["last time"] = "last time"
    value: ExactDecimal
    unit: str
    at: Moment
    days: int


Remark = Annotated[
    EngineNotAsWanted | Apart | Changed | LastTime,
    Field(discriminator="about"),
]
"""Any remark."""
