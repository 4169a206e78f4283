"""What is wrong with a file of the shelf: each fault with its line, all of them in one error."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from companion.errors import CompanionError
from companion.files.limits import MOST_TOLD
from companion.files.quoting import with_short_quotations
from companion.files.toml_lines import Location, TomlLines


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that is wrong.

    Attributes:
        location: Where, as keys and indices into the data.
        reason: What is wrong and, where it helps, what to write instead; no full stop.
        refers: Where it is only wrong as long as no table has that name, the table: ``step``.
    """

    location: Location
    reason: str
    refers: str | None = None


class WrongFile(CompanionError):
    """A file that is wrong.

    Args:
        path: The file.
        faults: Line, from 1, and reason of each fault of what stands in it.
        no_toml: The same of what is no TOML.
        uncounted: How many more faults there are that nobody looked for one by one.

    Attributes:
        path: The file.
        faults: Line, from 1, and reason of each fault: first what is no TOML, for the rest was read
            without it; each in the order of the file. Of so many that no person wrote the file only
            the first.
    """

    def __init__(
        self,
        path: Path,
        faults: Iterable[tuple[int, str]],
        no_toml: Iterable[tuple[int, str]] = (),
        uncounted: int = 0,
    ) -> None:
        self.path = path
        self.faults = (*_in_order(no_toml), *_in_order(faults))
        more = len(self.faults) - MOST_TOLD + uncounted
        super().__init__(
            "\n".join(
                [
                    *self.told[:MOST_TOLD],
                    *([f"{path}: {more} more are wrong; mend these first."] if more > 0 else []),
                ]
            )
        )

    @property
    def told(self) -> tuple[str, ...]:
        """Each fault as a sentence with file and line; all of them."""
        return tuple(f"{self.path}:{line}: {reason}." for line, reason in self.faults)


def _in_order(faults: Iterable[tuple[int, str]]) -> list[tuple[int, str]]:
    return sorted({(line, with_short_quotations(reason)) for line, reason in faults})


def refuse(path: Path, lines: TomlLines, faults: Sequence[Fault], uncounted: int = 0) -> None:
    """Refuse a file with faults.

    Args:
        path: The file.
        lines: On which line each of its keys stands.
        faults: What is wrong with it.
        uncounted: How many more there are, of so many that no person wrote the file.

    Raises:
        WrongFile: With line and reason of each; nothing without any.
    """
    if faults:
        raise WrongFile(
            path,
            [(lines.line_of(each.location), each.reason) for each in faults],
            uncounted=uncounted,
        )
