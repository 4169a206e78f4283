"""Programs that measure, fit and draw: run by hand as ``python -m tools.NAME``, never by the
companion. What they speak with and work on (voices, noises, jobs) they take from ``tests/``.
"""
