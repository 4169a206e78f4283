"""How the screen looks. Nothing is told by color alone: every part has its word."""

from __future__ import annotations

from prompt_toolkit.styles import Style

STYLE = Style.from_dict(
    {
        "doing": "bold",
        "tag.label": "bold reverse ansired",
        "tag": "bold ansired",
        "timer.label": "bold",
        "timer.rings": "bold reverse",
        "question.label": "bold reverse",
        "question": "bold",
        "step.label": "bold",
        "still": "underline",
        "offer.chosen": "bold",
        "prompt": "bold",
    }
)
"""By part; a terminal without color shows the same in bold and reversed."""
