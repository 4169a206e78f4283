"""What goes on in free speech is told by the grammar, however it opens."""

from __future__ import annotations

import pytest

from companion.grammar.compiled import load_grammar
from companion.grammar.free_speech import is_free_speech, opens_free_speech

GRAMMAR = load_grammar()


@pytest.mark.parametrize(
    "text",
    [
        "Note: the muffler guard is loose.",
        "Bench, note the muffler guard is loose.",
        "Customer says it surges under load.",
        "Make a note that the idler squeaks when it is cold.",
        "Complaint. Hard to start.",
        # The call sign as a transcript may have it.
        "Benge note, the old line had gone hard.",
    ],
)
def test_a_free_text_may_open_as_a_note_in_any_form(text: str) -> None:
    assert opens_free_speech(text, GRAMMAR)


@pytest.mark.parametrize(
    "text", ["", "Gap thirty thou.", "I left you the other note over there.", "Nope."]
)
def test_other_text_does_not(text: str) -> None:
    assert not opens_free_speech(text, GRAMMAR)


def test_only_a_note_goes_on_freely() -> None:
    assert is_free_speech(("customer", "says"), GRAMMAR)
    assert not is_free_speech(("gap", "thirty", "thou"), GRAMMAR)
