"""Which machines a job card, or a step of it, is for, by what the spec sheet says."""

from __future__ import annotations

import re

from companion.job.card import JobCard
from companion.job.sheet import SpecSheet
from companion.job.sheet_measures import measures


def fits(card: JobCard, sheet: SpecSheet) -> bool:
    """Return whether a card is for a machine.

    A sheet that does not say how its engine works is taken to fit: nothing speaks against it.
    """
    cycle = sheet.identification.cycle
    wanted = card.fits
    return (not wanted.cycles or cycle is None or cycle in wanted.cycles) and (
        not wanted.kinds or any(_says(sheet.kind, kind) for kind in wanted.kinds)
    )


def fits_words(card: JobCard) -> str | None:
    """Say which machines a card is for: "mower or tiller, four-stroke"; None where for all."""
    said = [" or ".join(words) for words in (card.fits.kinds, card.fits.cycles) if words]
    return ", ".join(said) or None


def lists(sheet: SpecSheet, name: str) -> bool:
    """Return whether a sheet lists something: a part, measure, fluid, belt or its battery."""
    return name in {
        *(part.name for part in sheet.part),
        *(reading.measure for reading in measures(sheet)),
        *(fluid.name for fluid in sheet.fluid),
        *(belt.name for belt in sheet.belt),
        *(("battery",) if sheet.battery is not None else ()),
    }


def _says(kind: str, words: str) -> bool:
    """Whether a kind holds these words, whole and in this order."""
    return re.search(rf"\b{re.escape(words)}\b", kind.lower()) is not None
