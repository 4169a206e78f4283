"""Ten calls tried out: how well a person is heard, with this microphone, beside this machine."""
