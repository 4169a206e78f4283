"""At the bench: microphone, key, typed lines and clock to one session, and the programs beside."""
