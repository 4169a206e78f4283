"""How well calls are heard: ``python -m tools.hearing`` measures it."""
