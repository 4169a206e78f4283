"""The espeak-ng shared library on Linux: the system's, or the one that a Python wheel ships.

pyttsx3 asks the dynamic linker for ``libespeak-ng.so.1``. A library with that SONAME that is loaded
before answers the request, so that loading the wheel's copy first is all it takes.
"""

from __future__ import annotations

import ctypes
import os
import sys
from pathlib import Path

SONAME = "libespeak-ng.so.1"
DATA_VARIABLE = "ESPEAK_DATA_PATH"
"""Environment variable in which espeak-ng looks for the folder of its voices."""
SYSTEM_DATA = (
    "/usr/share/espeak-ng-data",
    "/usr/local/share/espeak-ng-data",
    "/usr/lib/espeak-ng-data",
    *(str(path) for path in sorted(Path("/usr/lib").glob("*-linux-*/espeak-ng-data"))),
)
"""Where distributions keep the voices."""


def make_espeak_available() -> None:
    """See to it that pyttsx3 finds espeak-ng; does nothing where it does so by itself."""
    if sys.platform != "linux" or _system_has_espeak():
        return
    try:
        import espeakng_loader
    except ImportError:
        return
    library = Path(espeakng_loader.get_library_path()).with_name(SONAME)
    data = Path(espeakng_loader.get_data_path())
    if not library.exists() or not _holds_voices(data):
        return
    try:
        ctypes.CDLL(str(library), mode=ctypes.RTLD_GLOBAL)
    except OSError:
        return
    os.environ[DATA_VARIABLE] = str(data)


def _system_has_espeak() -> bool:
    """Whether the system has both library and voices.

    The library without its voices would end the whole program when it is initialized.
    """
    places = [os.environ[DATA_VARIABLE]] if DATA_VARIABLE in os.environ else SYSTEM_DATA
    if not any(_holds_voices(Path(place)) for place in places):
        return False
    try:
        ctypes.CDLL(SONAME)
    except OSError:
        return False
    return True


def _holds_voices(folder: Path) -> bool:
    return any((place / "phontab").is_file() for place in (folder, folder / "espeak-ng-data"))
