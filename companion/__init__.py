"""A voice-operated, offline companion for servicing small engines and outdoor power equipment.

For programs of one's own, ``from companion import hear, load_grammar`` (``docs/library.md``).
"""

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from companion.library import hear, load_grammar

__version__ = "0.1.0"

__all__ = ["__version__", "hear", "load_grammar"]


def __getattr__(name: str) -> Any:
    # Looked up when first asked for: the command begins before anything of the program is loaded.
    if name in __all__:
        from companion import library

        return getattr(library, name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
