"""An exchange as lines on a terminal: what was heard, what was recorded, what was said."""

from __future__ import annotations

from datetime import datetime

from companion.job.events import Heard, Said
from companion.session.exchange import Exchange
from companion.speak.worded.table import event_line

_IGNORED = "(not a call: nothing kept)"


def exchange_lines(exchange: Exchange) -> list[str]:
    """Lines to print for one exchange; the time stands on the first."""
    lines: list[str] = []
    for record in exchange.records:
        match record.event:
            case Heard(outcome="ignore") as heard:
                lines.append(f"heard   {_IGNORED}{_because(heard)}")
            case Heard() as heard:
                sure = "" if heard.engine == "typed" else f"  ({heard.confidence:.2f})"
                outcome = (
                    "" if heard.outcome == "record" else f"  → {heard.outcome}{_because(heard)}"
                )
                lines.append(f"heard   “{heard.text}”{sure}{outcome}")
            case Said() as said:
                lines.append(f"said    {said.text}")
                if said.source:
                    lines.append(f"source  {said.source}")
            case event:
                lines.append(f"record  {event_line(event)}")
    if not lines:
        return []
    at = exchange.records[0].at
    return [
        f"{_stamp(at) if place == 0 else '        '}  {line}" for place, line in enumerate(lines)
    ]


def print_exchange(exchange: Exchange) -> None:
    """Print an exchange at once, even into a pipe."""
    for line in exchange_lines(exchange):
        print(line, flush=True)


def _because(heard: Heard) -> str:
    return f": {', '.join(heard.reasons)}" if heard.reasons else ""


def _stamp(at: datetime) -> str:
    return at.strftime("%H:%M:%S")
