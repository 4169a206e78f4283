"""A voice-operated, offline companion for servicing small engines and outdoor power equipment."""

__version__ = "0.1.0"
