"""The head of a clip: whether it is a sound of this program, without decoding it."""

from __future__ import annotations

from companion.files.limits import LONGEST_CLIP
from companion.log.clips import SAMPLE_RATE

HEAD_BYTES = 42
"""The mark, the head of the first block, and the block (RFC 9639, sections 6 and 8)."""


def why_no_clip(head: bytes) -> str | None:
    """Say why a file is no clip; None where it is one.

    A FLAC file may say that it unpacks to far more than memory holds; this reads only what it says.

    Args:
        head: Its first ``HEAD_BYTES`` bytes.
    """
    # The first block must be the one that describes the stream, 34 bytes long.
    if len(head) < HEAD_BYTES or head[:4] != b"fLaC" or head[4] & 0x7F or head[5:8] != b"\0\0\x22":
        return "is no FLAC file"
    described = int.from_bytes(head[18:26], "big")
    rate, channels = described >> 44, (described >> 41 & 0x7) + 1
    samples = described & (1 << 36) - 1
    if rate != SAMPLE_RATE or channels != 1:
        return "is not 16 kHz mono"
    if not 0 < samples <= LONGEST_CLIP:
        return "does not say its length, or is longer than an hour"
    return None
