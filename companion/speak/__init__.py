"""Events and questions put into words, and words into speech."""
