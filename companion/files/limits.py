"""What anything that is read may be at most; everything beyond is refused with one sentence.

All figures are our own: far above what shops have, and low enough that a hostile file can neither
fill a disk or the memory nor keep a machine busy.
"""

from __future__ import annotations

from companion.files.sound_format import SAMPLE_RATE

MOST_FILES = 50_000
"""Files in a ZIP."""

MOST_BYTES = 2_000_000_000
"""Bytes of all of them together, unpacked: so few that no ZIP needs the 64-bit extension."""

LARGEST_LOG = 64 * 2**20
"""Bytes of a log: 64 MiB, some hundred thousand records."""

LARGEST_LOG_HERE = 128 * 2**20
"""Bytes of a log that is read where it lies: twice as many, for a job of which the shop never sees
the end must open all the same."""

LARGEST_FILE = 64 * 2**20
"""Bytes of any other file of a session: 64 MiB, half an hour of sound without any packing."""

LARGEST_MANIFEST = 16 * 2**20
"""Bytes of the manifest."""

MOST_PACKED = 100
"""How many times smaller a packed file may be than unpacked, where that is above a mebibyte."""

PACKED_SMALL = 2**20
"""Bytes up to which a file may be packed however well."""

LONGEST_CLIP = 60 * 60 * SAMPLE_RATE
"""Samples of a clip: an hour."""

HIGHEST_RATE = 768_000
"""Samples a second of any sound file; no device records more."""

MOST_CHANNELS = 64
"""Channels of any sound file."""

LONGEST_RECORDING = 12 * 60 * 60
"""Seconds of a phone's recording that are decoded: more than a working day."""

LONGEST_TO_DECODE = 10 * 60
"""Seconds of computing that the decoder of phones' recordings may take; an hour takes it some 5."""

LONGEST_WAIT_FOR_SOUND = 30.0
"""Seconds for which that decoder may give no sound."""

MOST_TO_DECODE_IN = 2**28
"""Bytes of memory that it may take."""

MOST_RECORDINGS = 1_000
"""Calls in a list of recordings to know a voice by: far more than anybody reads out."""

MOST_SESSIONS = 5_000
"""Sessions in a ZIP."""

# --- what people write ----------------------------------------------------------------------------

LARGEST_TEXT = 2**20
"""Bytes of a file that a person writes: a job card, a spec sheet, settings, a grammar."""

DEEPEST = 40
"""How deep brackets of JSON or TOML may be nested."""

LONGEST_TYPED = 2_000
"""Characters of a typed line; the longest call of the grammar has fewer than 200."""

MOST_WITHOUT_END = 16 * 2**20
"""Bytes of standard input without the end of a line, after which it counts as no text."""

LONGEST_ARGUMENT = 4_096
"""Characters of one word of the command line: the longest path that Linux takes has as many."""

LONGEST_SENTENCE = 1_200
"""Characters of a line that says what is wrong; of a longer one, as hostile names make it, the
middle is left out."""

MOST_TOLD = 20
"""Faults of one file that are told at once."""

LONGEST_QUOTED = 60
"""Characters of a value or key that is quoted from a file."""

LARGEST_GRAMMAR = 2**18
"""Bytes of a grammar in JSGF; the largest of ours has a tenth of that."""

MOST_NESTED = 150
"""How deep expansions of a grammar may be nested, through all its rules."""

MOST_SPOKEN = 300_000
"""States that a grammar may come to while it is compiled, those that say the same made one: with
the words of a job some 26,000, and twice as many where it is checked for what can be taken in two
ways; and expansions looked at for what may be silent."""

MOST_LOOPING = 2_000
"""States of a grammar that may stand on or before a repetition: to tell them apart costs time that
grows with their square."""

# --- numbers --------------------------------------------------------------------------------------

LARGEST_EXPONENT = 15
"""Power of ten that no number of the trade reaches: the stroke of an engine is a billion
micrometers at most."""

LONGEST_FIGURE = 60
"""Digits of a figure, and places after its point: what never ends is kept to 28, and the difference
of two such has no more than twice as many."""

LARGEST_COUNT = 1_000_000
"""The largest count in a card or sheet: of parts, months, minutes, years."""

LARGEST_WHOLE = 10**18
"""Of counts and numbers of records: what a database holds in 8 bytes is nine times as much."""

LONGEST_NUMBER = 20
"""Characters of a whole number; one of a hundred thousand digits is not even reckoned out."""

YEARS = range(1900, 2201)
"""Years that a clock may show, set wrong or right: at the ends of the calendar no offset from UTC
can be reckoned."""

MOST_DAYS = 36_500
"""Days that sound may be kept, or be old: a hundred years."""

MOST_DIGITS = 30
"""Digits of a number that is written with a point."""

# --- what a session holds -------------------------------------------------------------------------

LONGEST_LINE = 8 * 2**20
"""Bytes of one record: the longest is the first, with card and sheet, of which each may have
``LARGEST_TEXT`` and takes twice as much in JSON; those of what was heard have some thousand."""

SHORTEST_LINE = 100
"""Bytes that a record has at least: 64 of them are the hash of the one before."""

MOST_BROKEN_LINES = 1_000
"""Lines too short to be records that are still looked at one by one, for what is wrong with each; a
log of nothing but line feeds would take a hundred times its size."""

LARGEST_VOICE = 16 * 2**20
"""Bytes of what is kept of a voice: the fitted layer takes less than one million in base64."""

LARGEST_LIST = 16 * 2**20
"""Bytes of a list of the shop: a hundred thousand paths."""
