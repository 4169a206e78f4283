"""Signals at any time: ended, interrupted, hung up on, stopped and let go on."""

from __future__ import annotations

import signal

from tools.faults.running import CALLS, WORK, Running, Started, Tally, judge, lines

KINDS = (signal.SIGTERM, signal.SIGINT, signal.SIGHUP, signal.SIGSTOP)


def run(running: Running, most: int) -> Tally:
    """Send a signal at least ``most`` times in all shares together."""
    tally = Tally("signals")
    while tally.runs * running.shares < most:
        number = KINDS[tally.runs % len(KINDS)]
        moment = running.random.uniform(0.01, 0.15)

        def send(started: Started, number: int = number, moment: float = moment) -> None:
            if not started.goes_on(moment):
                return
            started.send(number)
            if number == signal.SIGSTOP:
                started.goes_on(0.02)
                started.send(signal.SIGCONT)

        running.fresh()
        ended = running.run([WORK], lines(CALLS), meanwhile=send)
        note = f"{signal.Signals(number).name} after {moment:.3f} s"
        if number == signal.SIGSTOP and ended.ended != 0:
            tally.tell(f"{note}: did not go on: {ended.ended} {ended.err}")
        judge(running, tally, ended, note=note)
    return tally
