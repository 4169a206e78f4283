"""What a ZIP of sessions may be at most. Export keeps to it, import refuses everything beyond.

All figures are our own: far above what shops have, and low enough that a hostile file can neither
fill a disk nor keep a machine busy.
"""

from __future__ import annotations

MOST_FILES = 50_000
"""Files in a ZIP."""

MOST_BYTES = 2_000_000_000
"""Bytes of all of them together, unpacked: so few that no ZIP needs the 64-bit extension."""

LARGEST_LOG = 64 * 2**20
"""Bytes of a log: 64 MiB, some hundred thousand records."""

LARGEST_FILE = 64 * 2**20
"""Bytes of any other file of a session: 64 MiB, half an hour of sound without any packing."""

LARGEST_MANIFEST = 16 * 2**20
"""Bytes of the manifest."""

MOST_PACKED = 100
"""How many times smaller a packed file may be than unpacked, where that is above a mebibyte."""

PACKED_SMALL = 2**20
"""Bytes up to which a file may be packed however well."""

LONGEST_CLIP = 60 * 60 * 16_000
"""Samples of a clip: an hour at 16 kHz."""

MOST_SESSIONS = 5_000
"""Sessions in a ZIP."""
