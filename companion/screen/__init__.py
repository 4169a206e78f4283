"""The terminal at the bench: what stands now below, calls typed with their completion above it.

What is shown is worked out by pure functions (``pane``, ``offers``, ``strip``); ``terminal`` alone
knows the library that draws it.
"""
