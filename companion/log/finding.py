"""One session found by what it is called."""

from __future__ import annotations

from pathlib import Path

from companion.errors import CompanionError
from companion.files.plain import real_path, stands_there
from companion.job.state import State
from companion.log.identity import identity_of, opened_of
from companion.log.line import LOG_NAME
from companion.log.names import same_machine
from companion.log.sessions import log_sign, session_folders, sessions_folder


def find_session(name: str | Path | None = None, *, unfinished: bool = False) -> Path:
    """Return the folder of a session.

    Args:
        name: A path to a session folder or its log, or the name of one in the data folder, whole
            or as much as makes it the only one. None: the latest.
        unfinished: With no name, pass over sessions that were closed.

    Raises:
        CompanionError: If there is none, or more than one answers to the name.
    """
    if name is None:
        return _latest(unfinished=unfinished)
    path = Path(name)
    # A folder that cannot be read counts as found: reading it tells what is wrong.
    if path.name == LOG_NAME and stands_there(path):
        return path.parent
    if log_sign(str(path)) is not None:
        return path
    folders = session_folders()
    exact = [folder for folder in folders if folder.name == str(name)]
    partly = [folder for folder in folders if str(name) in folder.name]
    if len(exact or partly) == 1:
        return (exact or partly)[0]
    if partly:
        several = exact or partly
        by_path = len({folder.name for folder in several}) < len(several)
        names = ", ".join(str(folder) if by_path else folder.name for folder in several)
        raise CompanionError(
            f"'{name}' is the name of several sessions, or part of it; name one of {names}."
        )
    raise CompanionError(
        f"There is no session '{name}', neither as a folder with a {LOG_NAME} nor in "
        f"{sessions_folder()}; 'companion sessions' lists those there are."
    )


def _latest(*, unfinished: bool) -> Path:
    # SQLite is only loaded where the latest is asked for, not where a session is named.
    from companion.log.index import SessionIndex

    unread = 0
    with SessionIndex() as index:
        for session in index.sessions(limit=None).rows:
            unread += session.status == "unreadable"
            if session.status != "unreadable" and not (unfinished and session.status == "closed"):
                return session.folder
    kind = "unfinished session" if unfinished else "session"
    if unread:
        # One of those that cannot be read may be the one.
        raise CompanionError(
            f"There is no {kind} that can be read in {sessions_folder()}, and {unread} that "
            "cannot; 'companion sessions' says why of each."
        )
    raise CompanionError(
        f"There is no {kind} in {sessions_folder()}; name a session folder, or start a session "
        "with 'companion work'."
    )


def session_of_machine(name: str, state: State, besides: Path) -> Path:
    """Return the session of this name that is of the same machine as another one: sessions that
    were put elsewhere may have one name.

    Args:
        name: Of the session folder.
        state: Of the other session.
        besides: Folder of the other session.

    Raises:
        CompanionError: If there is none, or more than one.
    """
    identity = identity_of(state)
    its = [
        folder
        for folder in session_folders()
        if folder.name == name
        and real_path(folder) != real_path(besides)
        and identity is not None
        and (opened := opened_of(folder)) is not None
        and opened[0] is not None
        and same_machine(opened[0].name, identity.name)
    ]
    return its[0] if len(its) == 1 else find_session(name)
