"""Answers about a machine or a job → the text of a new sheet or card to fill in."""
