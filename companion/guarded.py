"""One command run so that whatever goes wrong becomes one sentence and an exit status.

The exit status is 2 for wrong use, 1 for a failure outside the program, 130 for Ctrl-C as a shell
has it, and 70 (EX_SOFTWARE of BSD's ``sysexits.h``) for a fault of the program itself.
"""

from __future__ import annotations

import errno
import os
import sys
import traceback
from collections.abc import Callable
from pathlib import Path

from companion.errors import CompanionError
from companion.files.limits import LONGEST_ARGUMENT
from companion.plain_print import plain_print, shortened
from companion.standard_streams import open_standard_streams

STOPPED = 130
"""128 and the number of SIGINT."""
OWN_FAULT = 70


def guarded(run: Callable[[], int]) -> int:
    """Run a command.

    Args:
        run: Parses the command line and does what it asks; returns the exit status.

    Returns:
        The exit status; what went wrong is on standard error, a line each.

    Raises:
        SystemExit: As the parser of the command line ends the program.
    """
    try:
        open_standard_streams()
        with plain_print() as (out, _):
            ending: SystemExit | None = None
            try:
                status = _told(run)
            except SystemExit as error:
                ending, status = error, 0
            unread = _flushed()
            if out.lost is not None and not unread:
                _tell(_not_printed(out.lost))
                return status or 1
            if ending is not None:
                raise ending
            return status
    except KeyboardInterrupt:
        # Ctrl-C came again while the first one was being handled.
        return STOPPED


def refuse_long(arguments: list[str]) -> None:
    """Refuse a word of the command line that is longer than any name or call.

    Raises:
        CompanionError: If one is.
    """
    for word in arguments:
        if len(word) > LONGEST_ARGUMENT:
            raise CompanionError(
                f"'{word[:40]}…' has {len(word)} characters; nothing on the command line has more "
                f"than {LONGEST_ARGUMENT}, so shorten it."
            )


def _told(run: Callable[[], int]) -> int:
    """Print everything that went wrong, and return the exit status."""
    try:
        return run()
    except CompanionError as error:
        _tell(str(error))
        return error.exit_status
    except KeyboardInterrupt:
        _tell("stopped; everything acknowledged is in the log.")
        return STOPPED
    except BrokenPipeError:
        # The reader went away ("| head"): nothing more can be printed.
        return 0
    except OSError as error:
        _tell(_of_system(error))
        return 1
    except MemoryError:
        _tell("there is not enough memory for this; close other programs and call it again.")
        return 1
    except RecursionError:
        _tell(
            "something that was read stands too deep one in another; name a file that is simpler."
        )
        return 1
    except Exception as error:
        if _out_of_handles():
            # A part that cannot be opened counts as missing when it is loaded.
            _tell(_TOO_MANY_OPEN)
            return 1
        if isinstance(error, RuntimeError) and "Symlink loop" in str(error):
            _tell(f"a link leads back to itself: {error}; remove it, or name another folder.")
            return 1
        name = getattr(error, "name", None) or ""
        if isinstance(error, ImportError) and not name.startswith("companion"):
            name = name or "a package"
            _tell(
                f"the Python package {name} is missing, without which this cannot be done; "
                "install Bench Companion again."
            )
            return 1
        _tell(
            f"something went wrong in the program itself ({type(error).__name__} in "
            f"{_place(error)}); nothing that was recorded is lost. Call it again, and if it comes "
            "again, tell whoever looks after the program what stands in the brackets."
        )
        return OWN_FAULT


def _flushed() -> bool:
    """Flush the streams; return whether the reader went away."""
    try:
        sys.stdout.flush()
    except BrokenPipeError:
        sys.stdout.give_up()  # type: ignore[union-attr]
        return True
    return False


def _tell(sentence: str) -> None:
    """One line on standard error each; what is said of a hostile file is cut in its middle."""
    print(f"companion: {shortened(sentence)}", file=sys.stderr)


_TOO_MANY_OPEN = (
    "too many files are open at once; let more be open ('ulimit -n 1024'), or close other "
    "programs, and call it again."
)


def _of_system(error: OSError) -> str:
    """What the system refused, and the way out."""
    about = "" if error.filename is None else f" on {os.fsdecode(error.filename)}"
    if error.errno in (errno.EMFILE, errno.ENFILE) or _out_of_handles():
        return _TOO_MANY_OPEN
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return f"the disk is full{about}; free some space and call it again."
    if error.errno == errno.ENAMETOOLONG:
        return f"this name is too long{about}; give a shorter one and call it again."
    if error.errno == errno.ENOENT and error.filename is None and not _folder_is_there():
        return (
            "the folder that this was called in is no longer there; go to another one and call it "
            "again."
        )
    return (
        f"{error.strerror or error}{about}; check the name, and that this user may read and write "
        "there, and call it again."
    )


def _not_printed(lost: OSError | ValueError) -> str:
    """What is wrong with standard output, and the way out."""
    if isinstance(lost, OSError) and lost.errno in (errno.ENOSPC, errno.EDQUOT):
        return (
            "the disk is full, so not all that was to be printed could be written; free some space "
            "and call it again."
        )
    why = lost.strerror if isinstance(lost, OSError) and lost.strerror else "it is closed"
    return (
        f"not all that was to be printed could be written to standard output ({why.lower()}); "
        "everything else is done."
    )


def _folder_is_there() -> bool:
    try:
        os.getcwd()
    except OSError:
        return False
    return True


def _out_of_handles() -> bool:
    try:
        os.close(os.open(os.devnull, os.O_RDONLY))
    except OSError as error:
        return error.errno in (errno.EMFILE, errno.ENFILE)
    return False


def _place(error: Exception) -> str:
    """Where it happened: the last place that is the program's own."""
    own = Path(__file__).parent
    for frame in reversed(traceback.extract_tb(error.__traceback__)):
        if own in Path(frame.filename).parents:
            return f"{Path(frame.filename).relative_to(own)}, line {frame.lineno}"
    return "a package"
