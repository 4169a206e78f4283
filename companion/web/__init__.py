"""Pages in a browser: served from this machine, with nothing from elsewhere."""
