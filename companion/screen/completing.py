"""Completion and history of typed calls, for the library that draws the screen."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from prompt_toolkit.completion import CompleteEvent, Completer, Completion
from prompt_toolkit.document import Document
from prompt_toolkit.history import History

from companion.screen.offers import Offers


class CallCompleter(Completer):
    """Offers what may follow.

    Args:
        offered: Works out what may follow the text before the cursor.
    """

    def __init__(self, offered: Callable[[str], Offers]) -> None:
        self._offered = offered

    def get_completions(
        self, document: Document, complete_event: CompleteEvent
    ) -> Iterable[Completion]:
        """Yield what may stand in place of the word begun."""
        found = self._offered(document.text_before_cursor)
        for text in found.texts:
            yield Completion(text, start_position=-len(found.begun))


class CallHistory(History):
    """What the up arrow brings back: the calls of earlier sessions, then all that was typed in this
    one. What of it is kept is decided elsewhere, once it is known what was a call.

    Args:
        earlier: The oldest first.
    """

    def __init__(self, earlier: Sequence[str]) -> None:
        super().__init__()
        self._earlier = tuple(earlier)

    def load_history_strings(self) -> Iterable[str]:
        """Yield the latest first."""
        return reversed(self._earlier)

    def store_string(self, string: str) -> None:
        """Keep nothing here."""
