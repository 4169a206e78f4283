"""How well calls are heard: ``python -m tests.hearing`` measures it."""
