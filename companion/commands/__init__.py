"""The commands, a file a family: what each takes, and which room answers it."""
