"""One reader tried in a process of its own, guided by which lines an input reaches, or plainly.

The process prints each fault once, as a line of JSON, and at the end how many inputs it tried. What
it tries at the moment stands in a file, so that an input that takes it down is known as well.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
from contextlib import ExitStack
from pathlib import Path
from random import Random
from typing import Any

NOW_NAME = "now"


def main() -> None:
    """Try a reader; see ``python -m tools.fuzz`` for how to start it."""
    options = _options()
    if options.guided:
        import atheris

        with atheris.instrument_imports(
            include=["companion", "tomllib", "json"], enable_loader_override=False
        ):
            from tools.fuzz import readers, trying
    else:
        from tools.fuzz import readers, trying

    reader = next(each for each in readers.READERS if each.name == options.reader)
    out: Path = options.out
    out.mkdir(parents=True, exist_ok=True)
    seeds = reader.seeds()
    known: set[str] = set()
    count = 0

    with ExitStack() as stack:
        read = stack.enter_context(reader.opened())
        trying.limit_memory()

        def one(data: bytes) -> None:
            nonlocal count
            count += 1
            now.seek(0)
            now.write(len(data).to_bytes(4, "big") + data)
            fault = trying.tried(read, data)
            if fault is not None and fault.where not in known:
                known.add(fault.where)
                (out / f"{len(known)}.input").write_bytes(data)
                _tell(where=fault.where, told=fault.told, input=str(out / f"{len(known)}.input"))

        def ended() -> None:
            _tell(tried=count)
            sys.stdout.flush()

        with (out / NOW_NAME).open("wb", buffering=0) as now:
            for seed in seeds:
                one(seed)
            if options.guided:
                _guided(one, reader, seeds, options.runs, out, ended)
            else:
                random = Random(options.seed)
                pool = list(seeds)
                for _ in range(options.runs):
                    one(reader.worse(seeds, random.choice(pool), random))
        ended()


def _guided(one: Any, reader: Any, seeds: list[bytes], runs: int, out: Path, ended: Any) -> None:
    import atheris

    corpus = out / "corpus"
    corpus.mkdir(exist_ok=True)
    for number, seed in enumerate(seeds):
        (corpus / f"seed-{number}").write_bytes(seed)

    def mutate(data: bytes, most: int, chance: int) -> bytes:
        return bytes(reader.worse(seeds, data, Random(chance))[:most])

    count = 0

    def counted(data: bytes) -> None:
        nonlocal count
        one(data)
        count += 1
        if count >= runs:
            # libFuzzer ends the process itself, without what is to be told.
            ended()
            os._exit(0)

    atheris.Setup(
        [
            sys.argv[0],
            str(corpus),
            f"-atheris_runs={runs * 2}",
            "-max_len=60000",
            "-len_control=0",
            "-timeout=60",
            "-rss_limit_mb=0",
            "-print_final_stats=0",
            "-verbosity=0",
            f"-artifact_prefix={out}/",
        ],
        counted,
        custom_mutator=mutate,
    )
    atheris.Fuzz()


def _tell(**what: object) -> None:
    # Past standard output of Python, which a reader might have printed to.
    os.write(1, (json.dumps(what) + "\n").encode())


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser()
    parser.add_argument("reader")
    parser.add_argument("--runs", type=int, required=True)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--guided", action="store_true")
    return parser.parse_args()


if __name__ == "__main__":
    main()
