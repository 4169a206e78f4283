"""Events to an append-only file and back, the clips beside it, the index over all sessions."""
