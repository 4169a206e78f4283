"""Calls as JSGF rules, and one automaton made of them: to parse, to recognize and to draw from."""
