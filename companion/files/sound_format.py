"""The one form in which sound is worked on and kept: mono, ``SAMPLE_RATE`` samples a second."""

from __future__ import annotations

SAMPLE_RATE = 16_000
"""Samples per second of everything that is recorded, recognized, spoken and kept, in Hz: what the
recognizers were trained on, and enough for speech."""
