"""Every reader tried with a hundred thousand inputs: ``python -m tools.fuzz``.

The first of each reader are guided by which lines of the program they reach, where ``atheris`` is
installed; the rest are drawn plainly. A fault is printed once, and its input kept; what is mended
goes to ``tools/fuzz/found``, where the suite tries it again for ever.
"""

from __future__ import annotations

import argparse
import importlib.util
import json
import subprocess
import sys
import tempfile
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from tools.fuzz.given import Reader
from tools.fuzz.guided import NOW_NAME
from tools.fuzz.readers import READERS
from tools.fuzz.table import Tried, lines_of, write_into

GUIDED = 10_000
"""Inputs of a reader that are guided, which takes two to five times as long; the rest are drawn."""


def main() -> int:
    """Try the readers and print a table; 1 if there was a fault."""
    options = _options()
    chosen = [each for each in READERS if not options.reader or each.name in options.reader]
    guided = not options.plain and importlib.util.find_spec("atheris") is not None
    out: Path = options.out or Path(tempfile.mkdtemp(prefix="fuzz-"))
    print(
        f"Inputs are {'guided by atheris' if guided else 'drawn plainly'}; faults go to {out}.",
        flush=True,
    )
    found = []
    with ThreadPoolExecutor(options.cores) as pool:
        for each in pool.map(lambda reader: _tried(reader, options, out, guided), chosen):
            found.append(each)
            if options.write:
                # Each as it comes, so that what was tried counts where the rest is cut short.
                write_into([each], [reader.name for reader in READERS], guided=guided)
    print("\n".join(lines_of(found, guided=guided)))
    return 1 if any(each.faults for each in found) else 0


def _tried(reader: Reader, options: argparse.Namespace, out: Path, guided: bool) -> Tried:
    began = time.monotonic()
    wanted = min(options.runs or reader.runs, reader.runs)
    inputs, seed = 0, options.seed
    faults: list[str] = []
    while inputs < wanted and len(faults) < 100:
        guiding = guided and inputs < GUIDED
        most = min(wanted, GUIDED) if guiding else wanted
        place = out / f"{reader.name.split(' (')[0].replace(' ', '-')}-{seed}"
        command = [sys.executable, "-m", "tools.fuzz.guided", reader.name, "--out", str(place)]
        command += [
            "--runs",
            str(most - inputs),
            "--seed",
            str(seed),
            *(["--guided"] if guiding else []),
        ]
        with subprocess.Popen(
            command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
        ) as ran:
            assert ran.stdout is not None
            tried = None
            for line in ran.stdout:
                told = json.loads(line) if line.startswith("{") else {}
                tried = told.get("tried", tried)
                if "where" in told:
                    faults.append(told["where"])
                    print(
                        f"{reader.name}: {told['where']} ({told['input']})\n{told['told']}",
                        flush=True,
                    )
            assert ran.stderr is not None
            stderr = ran.stderr.read()
        if tried is None:
            faults.append(f"process ended with {ran.returncode}")
            print(
                f"{reader.name}: the process ended with {ran.returncode} at {place / NOW_NAME}\n"
                f"{stderr[-2000:]}",
                flush=True,
            )
            tried = 1
        inputs += tried
        seed += 1
    return Tried(reader.name, inputs, tuple(faults), time.monotonic() - began)


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tools.fuzz", description=__doc__)
    parser.add_argument("reader", nargs="*", help="of the table; else all")
    parser.add_argument(
        "--runs", type=int, help="inputs for each reader; else as many as it is to have"
    )
    parser.add_argument("--out", type=Path, help="where inputs that met a fault go")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--cores", type=int, default=2)
    parser.add_argument(
        "--plain", action="store_true", help="draw plainly, even if atheris is there"
    )
    parser.add_argument(
        "--write", action="store_true", help="put the table into docs/measurements.md"
    )
    return parser.parse_args()


if __name__ == "__main__":
    sys.exit(main())
