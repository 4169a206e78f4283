"""Sound in and sound out: files, microphone, loudspeaker, and where speech begins and ends."""
