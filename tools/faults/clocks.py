"""A clock that is set back and forward in a session, and a machine that sleeps for hours."""

from __future__ import annotations

import json
import os
from datetime import UTC, datetime, timedelta

from tools.faults import outside
from tools.faults.layer import NOTHING_WRONG, Plan
from tools.faults.running import AGAIN, ANOTHER, CALLS, WORK, Running, Tally, judge_whole, lines

HOURS = (1.0, 3.0, 11.0, 60.0)
"""How long it sleeps."""

HOUR, DAY = 3600.0, 86_400.0
YEAR = 365.25 * DAY


def _until(*date: int) -> float:
    """Seconds from now to a date, by UTC."""
    return (datetime(*date, tzinfo=UTC) - datetime.now(UTC)).total_seconds()  # type: ignore[arg-type, misc]


def jumps() -> dict[str, float]:
    """How far the clock may be wrong, in seconds."""
    return {
        "a second back": -1.0,
        "an hour back": -HOUR,
        "a day back": -DAY,
        "years back": -5 * YEAR,
        "before the program": _until(1999, 12, 31, 23, 59, 58),
        "at 1970": _until(1970, 1, 1),
        "before 1970": _until(1962, 5, 1),
        "an hour on": HOUR,
        "a month on": 30 * DAY,
        "into summer time": _until(2026, 3, 29, 0, 59, 59),
        "out of summer time": _until(2026, 10, 25, 0, 59, 59),
        "on a leap day": _until(2028, 2, 29, 23, 59, 59),
        "past 2038": _until(2038, 1, 19, 3, 14, 6),
        "far ahead": 200 * YEAR,
        "at the end of the calendar": _until(9999, 12, 31, 23, 50),
    }


def wrong(running: Running, step: int) -> Tally:
    """Set the clock wrong after each ``step``-th sync of a session, for good or for a while."""
    tally = Tally("clock")
    os.environ["TZ"] = "Europe/Berlin"
    try:
        running.fresh()
        typed = lines(CALLS)
        many = running.run([WORK], typed).syncs
        plans = [
            (name, ((at, by), *(((at + 3, 0.0),) if back else ())))
            for name, by in jumps().items()
            for at in range(step // 2, many, step)
            for back in (False, True)
        ]
        for name, plan in running.mine(plans):
            running.fresh()
            run = running.run(
                [WORK, NOTHING_WRONG, *AGAIN], typed, Plan(jumps=plan), then=f"{ANOTHER}\n"
            )
            judge_whole(running, tally, run, f"{name}: {plan}")
    finally:
        del os.environ["TZ"]
    return tally


def asleep(running: Running, step: int) -> Tally:
    """Let the machine sleep for hours with a timer running: the clock alone goes on."""
    tally = Tally("sleep")
    typed = lines(("start soak timer two hours", *CALLS[:3], "roger", *CALLS[4:]))
    running.fresh()
    many = running.run([WORK], typed).syncs
    # After the last two calls nothing rings any more: the job is parked.
    for hours, at in running.mine([(h, at) for h in HOURS for at in range(4, many - 2, step)]):
        running.fresh()
        plan = Plan(jumps=((at, hours * HOUR),))
        began = datetime.now(UTC)
        # A machine that slept wakes to the right time, and it stays right.
        for_good = Plan(jumps=((0, hours * HOUR),))
        run = running.run([WORK, for_good, *AGAIN], typed, plan, then=f"{ANOTHER}\n")
        note = f"{hours} hours at sync {at}"
        judge_whole(running, tally, run, note)
        if not running.sessions():
            continue
        raw = outside.read(running.sessions()[0]).raw
        records = [json.loads(line) for line in raw.splitlines()]
        started = [datetime.fromisoformat(r["at"]) for r in records if r["kind"] == "timer.started"]
        if not started or started[0] - began > timedelta(minutes=30):
            # It fell asleep before.
            continue
        rang = any(record["kind"] == "timer.rang" for record in records)
        if rang != (hours > 2):
            tally.tell(f"{note}: the timer of two hours {'rang' if rang else 'did not ring'}")
    return tally
