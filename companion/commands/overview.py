"""The help of the whole program: the commands in groups, by what somebody wants to do."""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Mapping

GROUPS: Mapping[str, tuple[str, ...]] = {
    "At the bench": ("work", "resume", "demo", "board", "photo"),
    "After the job": ("sessions", "report", "tags", "review", "history", "log"),
    "Machines and jobs": ("sheets", "cards", "new", "check", "cautions"),
    "Calls and hearing": ("calls", "understand", "hear", "replay", "grammar", "enroll", "voices"),
    "To look up": ("handbook",),
    "The shop": ("settings", "checkup", "export", "import", "key", "completion"),
}
"""Every command, under the purpose that somebody looks for it with."""

BEGIN = (
    "Begin:  companion demo       hear a recorded job\n"
    "        companion checkup    what works on this machine\n"
    "        companion work --typed    a job of your own, typed"
)

EXIT_STATUSES: Mapping[int, str] = {
    0: "done",
    1: "something was found wrong, or could not be done; a line on standard error says what",
    2: "wrong use: a command, an option or a value that is none",
    70: "a fault of the program itself; nothing that was recorded is lost",
    130: "stopped by Ctrl-C",
}
"""What each exit status says, of every command alike."""

OPTIONS = """Options:
  -h, --help   this help; after a command, what that one takes
  --version    the version of the program"""


class Overview(argparse.ArgumentParser):
    """The parser of the whole command line, whose help shows the commands in their groups."""

    def short_help(self) -> str:
        """Return what the program prints where no command is given."""
        return f"{self._begun()}\n\nMore: companion --help, companion COMMAND --help\n"

    def format_help(self) -> str:
        """Return the help in full."""
        statuses = "\n".join(
            f"  {number:<4} {meaning}" for number, meaning in EXIT_STATUSES.items()
        )
        return (
            f"usage: companion COMMAND ...\n\n{self._begun()}\n\n{OPTIONS}\n\n"
            f"Exit status of every command:\n{statuses}\n"
        )

    def _begun(self) -> str:
        groups = "\n\n".join(self._groups())
        return f"{self.description}\n\n{groups}\n\n{BEGIN}"

    def commands(self) -> Mapping[str, str]:
        """Return every command with what it does, in the order that they were added."""
        for action in self._actions:
            if isinstance(action, argparse._SubParsersAction):
                return {each.dest: each.help or "" for each in action._choices_actions}
        return {}

    def _groups(self) -> Iterator[str]:
        commands = dict(self.commands())
        width = max(map(len, commands), default=0)
        for title, names in GROUPS.items():
            its = [(name, commands[name]) for name in names if name in commands]
            if its:
                lines = [f"  {name:<{width}}  {first(about)}" for name, about in its]
                yield "\n".join([f"{title}:", *lines])


def first(about: str) -> str:
    """Return the first sentence of what a command does."""
    return f"{about.split('. ')[0].removesuffix('.')}."
