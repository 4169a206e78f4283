"""Pictures from outside: read with care, turned upright, and kept without what a camera adds."""

from __future__ import annotations

import io
import os
import stat
import warnings
from dataclasses import dataclass
from datetime import datetime, tzinfo
from pathlib import Path, PurePath
from typing import TYPE_CHECKING

from companion.errors import CompanionError

if TYPE_CHECKING:
    from PIL.Image import Image

MOST_BYTES = 40_000_000
"""The largest file that is read; a telephone's full picture is a fifth of it."""

MOST_PIXELS = 64_000_000
"""The most points of a picture: 192 MB once unfolded. What is larger is most often made to fill a
memory."""

QUALITY = 92
"""Of a JPEG or WebP that is kept; no difference is seen at it."""

PAGE_QUALITY = 80
"""Of a picture on a page, which is small."""

SUFFIXES = {"JPEG": ".jpg", "PNG": ".png", "WEBP": ".webp"}
"""By its format as the library names it: the kinds of pictures that are taken, and their files."""

_TAKEN, _TAKEN_OFFSET, _CHANGED, _DETAILS = 0x9003, 0x9011, 0x0132, 0x8769
"""Numbers of EXIF 2.32: DateTimeOriginal, OffsetTimeOriginal, DateTime and the part that has the
first two."""

_NO_WEB_FORMAT = (b"heic", b"heix", b"hevc", b"heim", b"heis", b"mif1", b"msf1", b"avif")


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture as it is kept.

    Attributes:
        data: Of the file: upright, without place, thumbnail and whatever else a camera wrote.
        suffix: For its name.
        taken: When, by the camera's clock; None where it does not say.
    """

    data: bytes
    suffix: str
    taken: datetime | None


def shown_name(path: PurePath) -> str:
    """Return a file's name for a sentence: short, and with nothing that moves a terminal."""
    name = "".join(letter if letter.isprintable() else "?" for letter in path.name)
    return name if len(name) <= 60 else f"{name[:50]}…{name[-9:]}"


def picture_bytes(path: Path) -> bytes:
    """Read a picture's file, which may be anything.

    Raises:
        CompanionError: If it is a link, no plain file, too large, or cannot be read.
    """
    name = shown_name(path)
    # Opened without waiting: a pipe without a writer would hold the program for ever.
    flags = os.O_RDONLY | sum(
        getattr(os, flag, 0) for flag in ("O_NOFOLLOW", "O_NONBLOCK", "O_BINARY")
    )
    try:
        if path.is_symlink():
            raise CompanionError(f"{name} is a link; name the picture that it leads to.")
        descriptor = os.open(path, flags)
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or "no such name"
        raise CompanionError(
            f"The picture {name} cannot be read ({why}); name a JPEG, PNG or WebP file."
        ) from None
    try:
        found = os.fstat(descriptor)
        if not stat.S_ISREG(found.st_mode):
            raise CompanionError(f"{name} is no file; name a JPEG, PNG or WebP picture.")
        if found.st_size > MOST_BYTES:
            raise _too_large(name)
        with os.fdopen(descriptor, "rb", closefd=False) as file:
            return file.read(MOST_BYTES + 1)
    except OSError as error:
        raise CompanionError(
            f"The picture {name} cannot be read ({error.strerror}); copy it again."
        ) from None
    finally:
        os.close(descriptor)


def clean_picture(data: bytes, name: str, zone: tzinfo | None) -> Picture:
    """Read a picture and write it anew: upright, and with nothing but what is seen.

    Written anew, it holds no place where it was taken, no other picture inside it, and nothing
    that only pretends to be a picture.

    Args:
        data: The file.
        name: What to call it in a sentence.
        zone: Of the shop, for a camera whose time has none.

    Raises:
        CompanionError: If it is no JPEG, PNG or WebP picture, damaged, or too large.
    """
    from PIL import ImageOps

    if len(data) > MOST_BYTES:
        raise _too_large(name)
    image = _opened(data, name)
    suffix = SUFFIXES[str(image.format)]
    try:
        taken = _taken(image, zone)
        profile = image.info.get("icc_profile")
        upright = ImageOps.exif_transpose(image)
        written = _written(_flat(upright), suffix, QUALITY, profile)
    except Exception:
        raise _damaged(name) from None
    return Picture(written, suffix, taken)


def small_jpeg(data: bytes, name: str, longest: int) -> tuple[bytes, int, int]:
    """Return a picture as a small JPEG for a page, with its width and height.

    Args:
        data: The file.
        name: What to call it in a sentence.
        longest: Points of its longer side at most.

    Raises:
        CompanionError: As ``clean_picture``.
    """
    image = _opened(data, name)
    try:
        # A JPEG can be unfolded at an eighth of its size, which takes a fraction of the time.
        image.draft("RGB", (longest, longest))
        profile = image.info.get("icc_profile")
        small = _flat(image)
        small.thumbnail((longest, longest))
        return _written(small, ".jpg", PAGE_QUALITY, profile), small.width, small.height
    except Exception:
        raise _damaged(name) from None


def _opened(data: bytes, name: str) -> Image:
    """A picture whose size is known to be bearable, not unfolded yet."""
    from PIL import Image

    if data[4:8] == b"ftyp" and data[8:12] in _NO_WEB_FORMAT:
        raise CompanionError(
            f"{name} is a HEIC or AVIF picture, which not every browser shows; save it as JPEG, or "
            "set the camera to JPEG."
        )
    try:
        with warnings.catch_warnings():
            # The size is looked at below, by a rule of our own.
            warnings.simplefilter("ignore")
            image = Image.open(io.BytesIO(data), formats=tuple(SUFFIXES))
    except Image.DecompressionBombError:
        raise _too_many_points(name) from None
    except Exception:
        # Whatever error a hostile file causes in the library, it is no picture.
        raise CompanionError(
            f"{name} is no JPEG, PNG or WebP picture; name a file that is one."
        ) from None
    if image.width * image.height > MOST_PIXELS:
        raise _too_many_points(name)
    return image


def _flat(image: Image) -> Image:
    """A picture in plain colors; what is seen through is white, as on paper."""
    from PIL import Image

    if image.mode in ("RGBA", "LA", "PA") or "transparency" in image.info:
        whole = image.convert("RGBA")
        white = Image.new("RGBA", whole.size, "white")
        return Image.alpha_composite(white, whole).convert("RGB")
    return image.convert("RGB")


def _written(image: Image, suffix: str, quality: int, profile: bytes | None) -> bytes:
    out = io.BytesIO()
    kind = next(name for name, ending in SUFFIXES.items() if ending == suffix)
    options = {"compress_level": 4} if kind == "PNG" else {"quality": quality}
    # A fresh image, so that no metadata of the old one goes along.
    fresh = image.copy()
    fresh.info = {}
    fresh.save(out, kind, icc_profile=profile, **options)
    return out.getvalue()


def _taken(image: Image, zone: tzinfo | None) -> datetime | None:
    """When the camera says that it was taken."""
    exif = image.getexif()
    details = exif.get_ifd(_DETAILS)
    said = details.get(_TAKEN) or exif.get(_CHANGED)
    try:
        at = datetime.strptime(str(said).strip("\0 "), "%Y:%m:%d %H:%M:%S")
    except ValueError:
        return None
    try:
        offset = datetime.strptime(str(details.get(_TAKEN_OFFSET, "")).strip("\0 "), "%z").tzinfo
    except ValueError:
        offset = None
    return at.replace(tzinfo=offset or zone)


def _too_large(name: str) -> CompanionError:
    return CompanionError(
        f"{name} is larger than {MOST_BYTES // 1_000_000} MB; save it smaller and name that."
    )


def _too_many_points(name: str) -> CompanionError:
    return CompanionError(
        f"{name} has more than {MOST_PIXELS // 1_000_000} million points; save it smaller and name "
        "that."
    )


def _damaged(name: str) -> CompanionError:
    return CompanionError(f"{name} is damaged or cut short; copy it from the camera again.")
