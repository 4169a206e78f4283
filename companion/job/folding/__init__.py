"""From records to a state: what each kind of event changes."""
