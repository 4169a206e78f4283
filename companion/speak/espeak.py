"""espeak-ng, called directly: text in, samples out, in one call that ends when the sound is whole.

On Linux pyttsx3 drives the same library, but its loop ends 10 ms after it has handed a text over,
finished or not, and cancels whatever it takes for still playing: under load some sentences came out
empty, and long ones were cut (``docs/measurements.md``). The library's synchronous mode has no such
loop. pyttsx3 stays for the systems that bring an engine of their own.

The library is the system's, or else the one that the wheel ``espeakng-loader`` ships. The interface
is that of ``speak_lib.h``, unchanged since espeak 1.
"""

from __future__ import annotations

import ctypes
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from companion.audio.native_words import part_standard_error

SONAME = "libespeak-ng.so.1"

SYNCHRONOUS = 2
"""AUDIO_OUTPUT_SYNCHRONOUS: a call returns when its sound is whole."""
DO_NOT_EXIT = 0x8000
"""Without it, a library that finds no voices ends the whole program."""
UTF8 = 1
RATE = 1

_CALLBACK = ctypes.CFUNCTYPE(
    ctypes.c_int, ctypes.POINTER(ctypes.c_short), ctypes.c_int, ctypes.c_void_p
)


class EspeakMissing(Exception):
    """Neither the system nor a wheel has an espeak-ng that works."""


class EspeakFailed(Exception):
    """The library refused a text or a voice."""


class Espeak:
    """The library, initialized; there is one a process.

    Args:
        library: Loaded.
        data: Folder of its voices; where it looks by itself if None.

    Attributes:
        rate: Samples per second of what it gives, in Hz.

    Raises:
        EspeakMissing: If it finds no voices.
    """

    def __init__(self, library: ctypes.CDLL, data: Path | None) -> None:
        self._library = library
        library.espeak_ListVoices.restype = ctypes.POINTER(ctypes.POINTER(_Voice))
        folder = None if data is None else str(data).encode()
        # The library looks for a sound server though it plays nothing here, and prints why there is
        # none.
        part_standard_error()
        self.rate = int(library.espeak_Initialize(SYNCHRONOUS, 0, folder, DO_NOT_EXIT))
        if self.rate <= 0:
            raise EspeakMissing
        self._pieces: list[bytes] = []
        # Kept as an attribute: the library holds no reference that Python knows of.
        self._callback = _CALLBACK(self._collect)
        library.espeak_SetSynthCallback(self._callback)

    def choose_voice(self, wanted: str) -> None:
        """Speak with another voice from now on.

        Args:
            wanted: A language ("en-us"), a voice with its variant ("en-us+f3"), or a part of a
                voice's name.

        Raises:
            EspeakFailed: If there is none like it.
        """
        if self._library.espeak_SetVoiceByName(wanted.encode()) == 0:
            return
        for name, identifier in self._voices():
            alike = wanted.lower() in f"{name} {identifier}".lower()
            if alike and self._library.espeak_SetVoiceByName(identifier.encode()) == 0:
                return
        raise EspeakFailed(f"no voice like {wanted!r}")

    def render(self, text: str, words_per_minute: int) -> NDArray[np.float32]:
        """Render a text.

        Args:
            text: What to say.
            words_per_minute: Pace.

        Returns:
            Shape (n,), mono, -1 to 1, at ``rate``.

        Raises:
            EspeakFailed: If the library refuses it.
        """
        self._library.espeak_SetParameter(RATE, words_per_minute, 0)
        self._pieces.clear()
        encoded = text.encode()
        failed = self._library.espeak_Synth(
            ctypes.c_char_p(encoded),
            ctypes.c_size_t(len(encoded) + 1),
            ctypes.c_uint(0),
            ctypes.c_int(0),
            ctypes.c_uint(0),
            ctypes.c_uint(UTF8),
            None,
            None,
        )
        if failed:
            raise EspeakFailed(f"error {failed}")
        samples = np.frombuffer(b"".join(self._pieces), dtype=np.int16)
        return samples.astype(np.float32) / np.float32(32768)

    def _collect(self, samples: ctypes._Pointer[ctypes.c_short], count: int, events: int) -> int:
        if samples and count > 0:
            self._pieces.append(ctypes.string_at(samples, 2 * count))
        return 0

    def _voices(self) -> Iterator[tuple[str, str]]:
        voices = self._library.espeak_ListVoices(None)
        place = 0
        while voices[place]:
            voice = voices[place].contents
            yield voice.name.decode(), voice.identifier.decode()
            place += 1


@cache
def load_espeak() -> Espeak:
    """Load espeak-ng: the system's if it works, else the one that a wheel ships.

    Raises:
        EspeakMissing: If there is neither.
    """
    for library, data in _libraries():
        try:
            return Espeak(ctypes.CDLL(library), data)
        except (OSError, EspeakMissing):
            continue
    raise EspeakMissing


def _libraries() -> Iterator[tuple[str, Path | None]]:
    yield SONAME, None
    try:
        import espeakng_loader

        yield espeakng_loader.get_library_path(), Path(espeakng_loader.get_data_path())
    except (ImportError, RuntimeError):
        return


class _Voice(ctypes.Structure):
    _fields_ = (
        ("name", ctypes.c_char_p),
        ("languages", ctypes.c_char_p),
        ("identifier", ctypes.c_char_p),
        ("gender", ctypes.c_ubyte),
        ("age", ctypes.c_ubyte),
        ("variant", ctypes.c_ubyte),
        ("xx1", ctypes.c_ubyte),
        ("score", ctypes.c_int),
        ("spare", ctypes.c_void_p),
    )
