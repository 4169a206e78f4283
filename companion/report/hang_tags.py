"""The tags that hang, to print and tie to the machine: one self-contained HTML page."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from companion.errors import CompanionError
from companion.files.page import write_page
from companion.handbook.units import UnknownUnit
from companion.job import gate
from companion.job.dangers import of_tag
from companion.job.record import worked_until
from companion.job.state import State
from companion.job.state_values import Tag
from companion.job.steps import in_words as step_in_words
from companion.log.followed import follows, state_of
from companion.log.reader import read_log
from companion.report.against import unknown
from companion.report.plain_words import machine_of
from companion.speak.reason_words import listed, reason_lines, reasons_words

if TYPE_CHECKING:
    from jinja2 import Template

PAGE_NAME = "tags.html"
"""File name of the page inside a session folder, where no other is asked for."""

LINE_MM = 172.0
"""Width that the words of a tag may take on A4 and on Letter alike, in millimeters."""

LETTER_WIDTH = 0.78
"""Width of a bold letter, in its height: that of the widest of the usual sans-serif faces."""

_HERE = Path(__file__).resolve().parent


@dataclass(frozen=True, slots=True)
class HangTag:
    """One tag to print.

    Attributes:
        text: Its name.
        size: Height of its letters, in millimeters, so that they fill the width.
        at: Since when it hangs.
        hung_by: What hung it, in words.
        reason: Why it hangs now, a sentence.
        why: Why nobody may start the engine meanwhile, a sentence.
        clears: What takes it down, a sentence.
    """

    text: str
    size: float
    at: datetime
    hung_by: str
    reason: str
    why: str
    clears: str


def hang_tags(state: State) -> tuple[HangTag, ...]:
    """Return the tags that hang, ready to print, the oldest first."""
    tallest = 44.0 if len(state.tags) == 1 else 17.0
    return tuple(
        HangTag(
            text=tag.tag,
            size=_size(tag.tag, tallest),
            at=tag.at,
            hung_by=_hung_by(tag),
            reason=_sentence(_reason(state, tag)),
            why=state.rules.dangers.why.get(tag.tag, "Whoever hung it knows why: ask first."),
            clears=_clears(state, tag),
        )
        for tag in state.tags
    )


@follows
def render_tags(folder: Path) -> str:
    """Return the hanging tags of a session as one HTML page that needs nothing from elsewhere.

    Args:
        folder: The session folder; nothing in it is changed.

    Raises:
        CompanionError: As ``companion.log.reader.read_log``, and where the log has an unknown unit.
    """
    records = read_log(folder).records
    state = state_of(folder, records)
    try:
        tags, against = (
            hang_tags(state),
            reason_lines(gate.reasons_against_start(state), dated=True),
        )
        not_checked = unknown(gate.checked(state))
    except UnknownUnit as error:
        raise CompanionError(
            f"The log in {folder} has a unit that this version does not know; print its tags with "
            "the version of Bench Companion that wrote it."
        ) from error
    return _template().render(
        tags=tags,
        per_sheet=1 if len(tags) == 1 else 2,
        machine=machine_of(state),
        job=state.card.title if state.card else "Job without a card",
        invented=state.sheet is not None and state.sheet.invented,
        session=folder.resolve().name,
        last=worked_until(records),
        against=[_sentence(reason) for reason in against],
        untagged=[
            _sentence(reason)
            for reason in reason_lines(gate.reasons_without_tag(state), dated=True)
        ],
        not_checked=not_checked,
    )


def write_tags(folder: Path, page: Path | None = None, *, replace: bool = False) -> Path:
    """Write the page of hanging tags.

    Args:
        folder: The session folder.
        page: The file to write; ``tags.html`` in the session folder if None.
        replace: Whether a plain file that is no page of tags may be replaced too.

    Returns:
        The file written.

    Raises:
        CompanionError: If the log cannot be used or the page cannot be written.
    """
    page = folder / PAGE_NAME if page is None else page
    return write_page(render_tags(folder), page, "page of tags", replace=replace)


def _size(text: str, tallest: float) -> float:
    return round(min(tallest, LINE_MM / (LETTER_WIDTH * len(text))), 1)


def _hung_by(tag: Tag) -> str:
    before = "" if tag.session is None else f", in {tag.session}"
    match tag.by:
        case "voice":
            return f"A call for it at the bench{before}"
        case "step":
            return f"The job card, {_step(tag)}{before}"
        case "implied":
            return f"Itself, from what was called at the bench{before}"


def _reason(state: State, tag: Tag) -> str:
    # An older log has "called" or the name of a step as its reason.
    nothing_open = not gate.in_the_way(state, tag.tag)
    if tag.by == "voice" and nothing_open:
        return "it was called for"
    if tag.by == "step" and nothing_open:
        return f"hung at {_step(tag)}"
    return reasons_words(gate.reasons_of_tag(state, tag), dated=True)


def _step(tag: Tag) -> str:
    """The step that hung a tag: "step make safe"; older logs have it as the reason."""
    if tag.step is not None:
        return f"step {step_in_words(tag.step)}"
    return step_in_words(tag.reason).removeprefix("hung at ")


def _clears(state: State, tag: Tag) -> str:
    affirm = "hear the question out and answer it with “affirm”."
    rows = [each for each in state.rules.dangers.fluids_of(tag.tag) if each.level_needed]
    if rows:
        fluid = rows[0].fluid
        return f"Fill it, call what went in, call “{fluid} level full”; then {affirm}"
    calls = [f"“{danger.back[0]} {danger.part}”" for danger in of_tag(state, tag.tag)]
    if calls:
        each = "each one of " if len(calls) > 1 else ""
        return f"Once done, call {each}{listed(calls)}; then {affirm}"
    return f"When that is over, call “clear tag {tag.tag}”, {affirm}"


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}{'' if text.endswith('.') else '.'}"


@cache
def _template() -> Template:
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    environment = Environment(
        loader=FileSystemLoader(_HERE),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["moment"] = _moment
    return environment.get_template("hang_tags.html")


def _moment(value: datetime) -> str:
    return f"{value.day} {value:%B %Y}, {value:%H:%M}"
