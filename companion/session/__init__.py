"""One job from its first record to its last: what happens in, records and answers out."""
