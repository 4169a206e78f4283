"""``python -m tools.faults``: every kind of fault, and a table of what was lost."""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from dataclasses import asdict
from pathlib import Path

from tools.faults import layer
from tools.faults.kinds import KINDS
from tools.faults.running import Running, Tally
from tools.faults.table import lines_of, remarks_of, write_into

MEMORY = Path("/dev/shm")
"""A folder in memory, where there is one: a sync costs nothing there."""
TOP = Path(__file__).resolve().parent.parent.parent


def main() -> int:
    """Run the kinds that were asked for, and print the table."""
    parser = argparse.ArgumentParser(prog="python -m tools.faults", description=__doc__)
    parser.add_argument("kinds", nargs="*", metavar="KIND", help=f"of {', '.join(KINDS)}; all")
    parser.add_argument("--short", action="store_true", help="a sample of each kind, in seconds")
    parser.add_argument("--seed", type=int, default=1, help="what the random choices follow from")
    parser.add_argument(
        "--write", action="store_true", help="put the table into docs/measurements.md"
    )
    parser.add_argument(
        "--processes", type=int, default=os.cpu_count() or 1, help="how many run at once"
    )
    parser.add_argument("--share", help=argparse.SUPPRESS)
    parser.add_argument("--result", type=Path, help=argparse.SUPPRESS)
    options = parser.parse_args()
    kinds = options.kinds or list(KINDS)
    for kind in kinds:
        if kind not in KINDS:
            parser.error(f"no kind is called {kind!r}; there are {', '.join(KINDS)}")
    if options.share:
        return _share(kinds, options)
    tallies = run(kinds, short=options.short, seed=options.seed, shares=options.processes)
    for line in (*lines_of(tallies), *remarks_of(tallies)):
        print(line)
    if options.write:
        print(f"Written into {write_into(tallies)}")
    return 1 if any(tally.lost or tally.tracebacks or tally.told for tally in tallies) else 0


def run(kinds: list[str], *, short: bool, seed: int, shares: int | None = None) -> list[Tally]:
    """Run kinds of faults.

    Args:
        kinds: Their names.
        short: Whether a sample of each is enough.
        seed: What every random choice follows from.
        shares: In how many processes; one a core if left out.

    Raises:
        RuntimeError: If a process of them failed.
    """
    shares = shares or os.cpu_count() or 1
    with tempfile.TemporaryDirectory(dir=MEMORY if MEMORY.is_dir() else None) as scratch:
        library = layer.build(Path(scratch))
        if library is None:
            return [Tally(kind, notes=[f"{kind}: skipped, no C compiler here"]) for kind in kinds]
        results = [Path(scratch) / f"result-{share}" for share in range(shares)]
        # For runs as another user.
        Path(scratch).chmod(0o711)
        begun = [
            subprocess.Popen(
                [
                    *(sys.executable, "-m", "tools.faults", *kinds),
                    *(["--short"] if short else []),
                    *("--seed", str(seed), "--share", f"{share}/{shares}"),
                    *("--result", str(result)),
                ],
                cwd=TOP,
                env={**os.environ, layer.VARIABLE: str(library)},
            )
            for share, result in enumerate(results)
        ]
        ended = [process.wait() for process in begun]
        if any(ended):
            raise RuntimeError(f"the fault runs themselves failed: {ended}")
        tallies = [Tally(kind) for kind in kinds]
        for result in results:
            for tally, counted in zip(tallies, json.loads(result.read_text()), strict=True):
                tally.add(Tally(**counted))
    return tallies


def _share(kinds: list[str], options: argparse.Namespace) -> int:
    share, shares = map(int, options.share.split("/"))
    scratch = options.result.parent / f"share-{share}"
    scratch.mkdir()
    scratch.chmod(0o711)
    running = Running(scratch, share, shares, options.seed)
    tallies = []
    for kind in kinds:
        began = time.monotonic()
        tally = KINDS[kind](running, options.short)
        tally.kind = kind
        tally.seconds = time.monotonic() - began
        tallies.append(asdict(tally))
        if not share:
            print(f"{kind}: {tally.seconds:.0f} s", file=sys.stderr, flush=True)
    options.result.write_text(json.dumps(tallies))
    return 0


if __name__ == "__main__":
    sys.exit(main())
