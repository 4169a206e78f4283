"""Pages in a browser: the review of sessions, and what every page of the program stands on."""
