"""What there was to doubt in a call, in plain words."""

from __future__ import annotations

from companion.job import events as ev

SURE = 0.9
"""From this confidence on nothing is said of it: nearly all calls of the hearing benchmark that
were recorded at once had it (``docs/measurements.md``)."""

WORTH_NAMING = 0.02
"""A rival with a smaller share counts as ruled out."""

_NO_DOUBT = frozenset({"second agrees"})
"""Reasons that speak for a call."""

_NUMBER = {
    "close rival: ": "It may also have been “{}”.",
    "may mean ": "The number may mean {}.",
    "no unit was called: ": "No unit was called; {} were taken.",
    "ten times off: ": "It is ten times off the usual: {}?",
}
"""By the beginning of a reason, the sentence that takes the rest of it."""

_WHOLE = {
    "low confidence": "It was not heard clearly.",
    "said under the companion's own voice": "The companion itself still spoke.",
    "nearly a call": "The words are near to a call, but not one word for word.",
    "no call sign": "It did not begin with the call sign.",
    "no question is open": "It answers a question, and none was open.",
    "nothing was heard": "Nothing was heard in the sound.",
    "said in another form than the one it is acted on in": (
        "It was said in a form that is asked about before it is acted on."
    ),
}


def in_doubt(heard: ev.Heard) -> bool:
    """Whether anything spoke against taking a call as it was taken."""
    if heard.outcome in ("ask", "say-again"):
        return True
    if heard.outcome == "ignore" or _is_note(heard):
        return False
    doubts = [reason for reason in heard.reasons if reason not in _NO_DOUBT]
    return bool(doubts) or bool(_rivals(heard)) or heard.confidence < SURE


def doubt_sentences(heard: ev.Heard) -> tuple[str, ...]:
    """Return what spoke against a call, a sentence each; nothing where nothing did."""
    said = [_sentence(reason) for reason in heard.reasons if reason not in _NO_DOUBT]
    if in_doubt(heard) and heard.engine != "typed" and heard.confidence < SURE:
        said.insert(0, f"The recognizer was {sureness(heard.confidence)}.")
    return tuple(dict.fromkeys(said))


def rival_words(heard: ev.Heard) -> tuple[tuple[str, str], ...]:
    """Return what else it may have been, each with how likely, in words; the likeliest first."""
    if not in_doubt(heard):
        return ()
    return tuple((rival.text, _likely(rival.confidence)) for rival in _rivals(heard))


def sureness(confidence: float) -> str:
    """Return how sure a recognizer was, in words, with the figure."""
    percent = f"{round(min(max(confidence, 0.0), 1.0) * 100)} %"
    if confidence >= SURE:
        return f"sure ({percent})"
    if confidence >= 0.7:
        return f"fairly sure ({percent})"
    if confidence >= 0.4:
        return f"unsure ({percent})"
    return f"hardly able to tell ({percent})"


def _rivals(heard: ev.Heard) -> tuple[ev.Rival, ...]:
    found = [rival for rival in heard.rivals if rival.confidence >= WORTH_NAMING]
    return tuple(sorted(found, key=lambda rival: rival.confidence, reverse=True))


def _likely(confidence: float) -> str:
    percent = f"{round(min(max(confidence, 0.0), 1.0) * 100)} %"
    if confidence >= 0.3:
        return f"nearly as likely ({percent})"
    if confidence >= 0.1:
        return f"less likely ({percent})"
    return f"hardly likely ({percent})"


def _sentence(reason: str) -> str:
    if reason in _WHOLE:
        return _WHOLE[reason]
    for begin, sentence in _NUMBER.items():
        if reason.startswith(begin):
            return sentence.format(reason.removeprefix(begin))
    for end in (" times the spec", " of the spec"):
        if reason.endswith(end):
            share = reason.removesuffix(end)
            times = "times " if "times" in end else ""
            return f"The value is {share} {times}what the sheet wants."
    return f"{reason[:1].upper()}{reason[1:]}{'' if reason.endswith(('.', '?')) else '.'}"


def _is_note(heard: ev.Heard) -> bool:
    """Free speech is written down by another engine, whose confidence says nothing of a call."""
    return heard.draft is not None
