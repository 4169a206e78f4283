"""Every reader of the program given what nobody would write: ``python -m tools.fuzz``."""
