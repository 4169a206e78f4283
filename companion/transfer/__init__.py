"""Sessions out of the program as tables and as ZIP files, and ZIP files back in."""
