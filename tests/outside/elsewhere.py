"""Checks against something outside that need more than one figure a row, and where they stand."""

from __future__ import annotations

ELSEWHERE = (
    ("number words", "every number said and read back", "num2words (PyPI)",
     "tests.test_numbers"),
    ("grammar", "sentences of the grammars, read by another reader", "pocketsphinx (PyPI)",
     "tests.test_grammar_independent_reader"),
    ("spec sheets", "torques, oils, blade and generator speeds of those that ship",
     "SAE J429, ISO 898-1, SAE J300, ANSI/OPEI B71.1", "tests.test_sheets_plausible"),
    ("log", "records against their printed schema", "jsonschema (PyPI)", "tests.test_log_schema"),
    ("hearing", "number words of a recorded human voice", "recordings in a public package",
     "tests.test_recognize_whisper"),
)  # fmt: skip
"""Topic, what is checked, against what, and the module of the tests."""
