"""Troubles around the program as they are said aloud, without what helps only on a screen.

The sentence is written to be read: with a path, the system's words in brackets, a command to type.
It is printed and kept in the log like that. At the bench only what happened and what to do about it
is said.
"""

from __future__ import annotations

import re

_BRACKETS = re.compile(r"\s*\([^()]*\)")
_PATH = (
    r"(?:~|[A-Za-z]:)?[/\\][^\s,;:'\"]*[^\s,;:.'\"]"
    r"|[\w*./\\-]+\.(?:toml|jsonl?|tip|txt|html?|flac|wav|gram|bin|csv|zip|py)\b"
)
_LEADING = re.compile(rf"^(?:'?(?:{_PATH})'?)(?:, line \d+)?:\s*")
"""A path that the sentence is about: ``/data/voices/rosa.json: the voice is damaged``."""
_PLACED = re.compile(
    rf"\s+(?:in|into|to|from|at|of|on|under|beside|as|for|with)\s+'?(?:{_PATH})'?(?=[\s,;:.)]|$)"
)
_NAMED = re.compile(rf"'?(?:{_PATH})'?")
_FOLLOWING = re.compile(
    rf"\b(file|folder|log|page|clip|photo|microphone|loudspeaker)\s+'?(?:{_PATH})'?"
)
"""A path after the word that says what it is of: that word is enough."""
_RIGHTS = re.compile(r"(?:,? (?:or|and)) (?:mend|check)\b[^,;.]*\bpermissions?\b[^,;.]*")
_LATER = re.compile(r"'(companion resume)'")
"""The one command that is said: there is no other way to go on with a job."""
_CLAUSE = re.compile(
    r"(?<=[;:])\s+"
    r"|(?<=,)\s+(?=(?:or|and)\s+(?:\w+\s+){0,5}?(?:--|'companion|companion ))"
)
_TYPED = re.compile(r"[;,]?\s*\w+ it with:\s*companion [^.;]*")
"""A command after what it does: "enroll it with: companion enroll 'Rosa'"."""
_SENTENCE = re.compile(r"(?<=[.?!])\s+")
_FOR_THE_SCREEN = re.compile(
    r"--\w|'companion\b|\bcompanion (?!resume\b)[a-z]+\b|\bcommand line\b|\bsettings file\b"
    r"|\bon the screen\b|\bterminal\b|\bstandard (?:error|output|input)\b|\bCtrl|\bbrackets\b"
    r"|\binstall it with\b|\bpermissions?\b|\bpip\b"
)
"""Words by which a clause helps only whoever sits at the computer."""

NOTHING_LEFT = "Something beside the job failed; go on with the job."
"""Said where nothing of a sentence can be acted on at the bench."""


def aloud(what: str) -> str:
    """Return a sentence about something that failed as it is said.

    Args:
        what: One sentence or several, as they are printed.
    """
    said = [kept for each in _SENTENCE.split(_plain(what)) if (kept := _clauses(each))]
    return " ".join(said) or NOTHING_LEFT


def _plain(what: str) -> str:
    """The text without brackets and paths."""
    text = _BRACKETS.sub("", " ".join(what.split()))
    text = _LEADING.sub("", text)
    text = _FOLLOWING.sub(r"\1", text)
    text = _PLACED.sub("", text)
    text = _RIGHTS.sub("", text)
    text = _TYPED.sub("", text)
    text = _LATER.sub(r"\1", text)
    return _NAMED.sub("a file", text)


def _clauses(sentence: str) -> str:
    """A sentence without the clauses that are for the screen."""
    kept = [each for each in _CLAUSE.split(sentence) if not _FOR_THE_SCREEN.search(each)]
    text = " ".join(kept).strip(" ,;:")
    if len(text.split()) < 2:
        return ""
    text = f"{text[:1].upper()}{text[1:]}"
    return text if text[-1] in ".?!" else f"{text}."
