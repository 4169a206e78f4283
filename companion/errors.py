"""The two ways a command fails, each with one plain sentence that says what to do.

Every room may raise these; only the command line catches them. The sentence goes to standard
error as it stands, so it names the file or device, what is wrong with it, and the way out.
"""


class CompanionError(Exception):
    """Something outside the program is not as it should be: a file, a device, a model, a disk.

    The command line prints the message and exits with status 1.
    """

    exit_status = 1


class WrongUse(CompanionError):
    """The command was called in a way that cannot work, whatever the machine.

    The command line prints the message and exits with status 2.
    """

    exit_status = 2
