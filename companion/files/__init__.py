"""The two gates: everything that is read from the disk, and everything that is written to it."""
