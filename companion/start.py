"""Where the program begins: quiet and in order before anything of it is loaded.

Loading takes a moment, in which Ctrl-C must not print where in the loading it came, and in which a
file could get the number of a standard stream that was closed.
"""

from __future__ import annotations

# The C module behind ``signal``, which would load other modules first.
import _signal  # type: ignore[import-not-found]
import sys


def main() -> int:
    """Run the command that was typed and return its exit status."""
    # Until the commands are there, and when they are done, Ctrl-C simply ends the program, by the
    # signal, as the shell expects. Whoever started it with the signal ignored wants it ignored.
    answered = _signal.getsignal(_signal.SIGINT) is _signal.default_int_handler
    if answered:
        _signal.signal(_signal.SIGINT, _signal.SIG_DFL)
    from companion.standard_streams import open_standard_streams

    open_standard_streams()
    try:
        from companion.cli import main as run
        from companion.guarded import STOPPED
    except (ImportError, OSError, MemoryError) as error:
        print(
            f"companion: the program cannot be loaded ({error}); let more files be open "
            "('ulimit -n 1024'), or install it anew.",
            file=sys.stderr,
        )
        return 1
    try:
        try:
            if answered:
                _signal.signal(_signal.SIGINT, _signal.default_int_handler)
            return run()
        finally:
            if answered:
                _signal.signal(_signal.SIGINT, _signal.SIG_DFL)
    except KeyboardInterrupt:
        # Ctrl-C came in the instant before the command began, or after its end.
        _signal.signal(_signal.SIGINT, _signal.SIG_DFL)
        return STOPPED


if __name__ == "__main__":
    sys.exit(main())
