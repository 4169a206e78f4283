"""Why an engine must not be started, in words; nowhere else are reasons put into words."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from companion.handbook.convert import plain
from companion.handbook.units import spoken
from companion.job.lines import several
from companion.job.reason import Checked, Filled, Reason
from companion.speak.when_words import when_words

NEVER_CHECKED = ("guards", "controls", "fuel leaks", "people near")
"""Things that no call reports; the gate says every time that it did not check them."""


def listed(words: Iterable[str]) -> str:
    """Join words as they are said: "a", "a and b", "a, b and c"."""
    *most, last = words
    return f"{', '.join(most)} and {last}" if most else last


def reasons_words(reasons: Sequence[Reason], *, dated: bool = False) -> str:
    """Say reasons in one line: "both belts were removed, blade was called bent".

    Args:
        reasons: At least one.
        dated: Whether those of an earlier job have a date, as on paper, and not "two days ago".
    """
    return ", ".join(_grouped(reasons, dated=dated))


def reason_lines(reasons: Sequence[Reason], *, dated: bool = False) -> tuple[str, ...]:
    """Say why the gate is shut, a line for each tag and each other reason; as ``reasons_words``."""
    lines = []
    for tag in dict.fromkeys(reason.tag for reason in reasons if reason.tag is not None):
        of_tag = [reason for reason in reasons if reason.tag == tag]
        lines.append(f"tag {tag}: {reasons_words(of_tag, dated=dated)}")
    untagged = [reason for reason in reasons if reason.tag is None]
    return (*lines, *_grouped(untagged, mended=True, dated=dated))


def stays_words(reasons: Sequence[Reason]) -> str:
    """Say why a tag stays: what was called and what was not called since."""
    return "; ".join(_grouped(reasons, mended=True))


def _grouped(reasons: Sequence[Reason], *, mended: bool = False, dated: bool = False) -> list[str]:
    """Reasons of one kind said together, in the order of their first."""
    groups: dict[object, list[Reason]] = {}
    for place, reason in enumerate(reasons):
        when = (reason.days, reason.session) if reason.session else None
        key: object = (reason.about, reason.what, reason.back, when)
        if reason.about == "fluid":
            key = ("fluid", reason.name)
        elif reason.about not in ("work", "finding"):
            key = place
        groups.setdefault(key, []).append(reason)
    return [_said(group, mended, dated) for group in groups.values()]


def _said(group: Sequence[Reason], mended: bool, dated: bool) -> str:
    first = group[0]
    match first.about:
        case "work" | "finding":
            return _parts(group, mended, dated)
        case "fluid":
            return _fluid(group, dated)
        case "tag":
            before = _before(first, dated)
            if first.what == "step" and first.step is not None:
                return f"hung at step {first.step.replace('-', ' ')}{before}"
            return f"hung by a call{before}" if first.what == "voice" else f"it hangs{before}"
        case "engine":
            return "the engine was called running and not called stopped"
        case "step":
            return f"step {first.name.replace('-', ' ')} was begun and not called done"
        case "log":
            return "a log of this machine cannot be read"
        case "undone":
            return f"{first.what} {first.name} was disregarded"
        case "words":
            said = first.what
            if said == "called":
                return "hung by a call"
            return f"hung at {said}" if said.startswith("step ") else said


def _parts(group: Sequence[Reason], mended: bool, dated: bool) -> str:
    first = group[0]
    several = len(group) > 1 or first.left > 1 or first.every
    called = "called " if first.about == "finding" else ""
    said = f"{listed(map(_name, group))} {'were' if several else 'was'} {called}{first.what}"
    before = _before(first, dated)
    if not mended:
        return f"{said}{before}"
    back = "mended" if first.about == "finding" else first.back
    return f"{said}{before}{',' if before else ''} and not called {back}"


def _name(reason: Reason) -> str:
    if reason.every:
        return several(reason.name, 2)
    if reason.of <= 1:
        return reason.name
    if reason.left == reason.of:
        return f"{reason.left} {several(reason.name, 2)}"
    return f"{reason.left} of {reason.of} {several(reason.name, 2)}"


def _before(reason: Reason, dated: bool) -> str:
    """When it was, where that was in another job of the machine."""
    if reason.session is None or reason.since is None:
        return ""
    if dated:
        return f", {reason.since.day} {reason.since:%B %Y}"
    return f", {when_words(reason.since, reason.days)}"


def _fluid(group: Sequence[Reason], dated: bool) -> str:
    first = group[0]
    fluid, what = first.name, {reason.what for reason in group}
    before = _before(first, dated)
    said = []
    if {"none added", "level unproven"} <= what:
        # One sentence for both: they mostly come together, and the gate's answer has to be short.
        said.append(f"{fluid} was drained, none was called added, and its level not called full")
    elif "none added" in what:
        said.append(f"{fluid} was drained and none was called added since")
    elif "level unproven" in what:
        said.append(f"{fluid} level has not been called full since it was drained")
    if "drained" in what:
        said.append(f"{fluid} was drained")
    for level in ("low", "over"):
        if level in what:
            said.append(f"{fluid} level was last called {level}")
    if "overfilled" in what:
        said.append(f"more {fluid} went in than it takes")
    return f"{'; '.join(said)}{before}"


# --- the question whether a tag may come down ---------------------------------------------------


def clearing_words(grounds: Sequence[Reason], filled: Filled | None) -> str:
    """Say on what ground a tag is asked about; "affirm" means that this is over."""
    why = reasons_words(grounds)
    if any(reason.about == "log" for reason in grounds):
        return f"{why}. Affirm if you have looked the machine over."
    if filled is None:
        return f"{why}. Affirm if that is over."
    if filled.taken_back:
        why += ", which was taken back"
    called = []
    if filled.added is not None and filled.unit is not None:
        amount = filled.added
        called.append(f"{plain(amount)} {spoken(filled.unit, plural=amount != 1)} added since")
    if filled.level_needed:
        called.append(
            f"{filled.fluid} level "
            + ("not called" if filled.level is None else f"called {filled.level}")
            + ("" if filled.settled or filled.level is None else " before the last filling")
        )
    return f"{why}. {', '.join(called).capitalize()}." if called else f"{why}."


# --- what calls tell and do not tell ------------------------------------------------------------


def checked_words(known: Checked) -> tuple[str, ...]:
    """Say what calls tell for a start: levels, and how many tags came down."""
    levels = [f"{fluid} level full" for fluid in known.full]
    if known.cleared:
        # Every tag that came down was answered for one by one: here their number is enough.
        count = len(known.cleared)
        levels.append(f"{count} {'tag' if count == 1 else 'tags'} cleared")
    return tuple(levels)


def unknown_words(known: Checked) -> tuple[str, ...]:
    """Say what is unknown before a start, without what no call ever tells."""
    unknown = [f"{fluid} level" for fluid in known.unknown]
    if known.steps_left:
        what = "step" if known.steps_left == 1 else "steps"
        unknown.append(f"{known.steps_left} {what} of the card")
    return tuple(unknown)
