"""Fault runs: what was read back stays on the disk, whatever happens to the program and the disk.

``python -m tools.faults`` runs the real program, typed calls and all, under kills, power cuts, full
and failing disks, taken permissions, wrong clocks, signals and several programs at one log. Each
run is judged from outside: by what the program had printed, and by a reader of the log that shares
nothing with the program (``outside.py``).
"""
