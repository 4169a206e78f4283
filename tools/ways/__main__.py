"""Measures lists of ways to say the calls: ``python -m tools.ways FILE… [--each]``."""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from collections.abc import Iterable
from pathlib import Path

from companion.errors import CompanionError
from tools.ways import OUTCOMES, Measured, measure


def main() -> int:
    """Measure and print; return the exit status."""
    options = _options()
    try:
        found = [one for path in options.files for one in measure(path)]
    except CompanionError as error:
        print(f"tools.ways: {error}", file=sys.stderr)
        return error.exit_status
    print(table(found))
    if options.each:
        for one in sorted(found, key=lambda one: OUTCOMES.index(one.outcome)):
            if one.outcome != "at once":
                print(f"{one.outcome}: {one.said!r} for {one.plain!r}")
    return 0


def table(found: Iterable[Measured]) -> str:
    """How many ways came to what, in all and by the family of their calls."""
    counts: dict[str, Counter[str]] = {"in all": Counter()}
    for one in found:
        for row in ("in all", one.family):
            counts.setdefault(row, Counter())[one.outcome] += 1
    lines = [f"{'':<16}{'ways':>6}" + "".join(f"{outcome:>16}" for outcome in OUTCOMES)]
    for row, count in sorted(counts.items(), key=lambda each: (each[0] != "in all", each[0])):
        numbers = "".join(f"{count[outcome]:>16}" for outcome in OUTCOMES)
        lines.append(f"{row:<16}{count.total():>6}{numbers}")
    total = counts["in all"].total()
    if total:
        at_once = counts["in all"]["at once"] / total
        rightly = at_once + counts["in all"]["right question"] / total
        lines.append(f"at once {at_once:.1%}; at once or with the right question {rightly:.1%}")
    return "\n".join(lines)


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tools.ways", description=__doc__)
    parser.add_argument("files", nargs="+", type=Path, help="lists, a table a job")
    parser.add_argument("--each", action="store_true", help="name what was not taken at once")
    return parser.parse_args()


if __name__ == "__main__":
    sys.exit(main())
