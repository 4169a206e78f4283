"""What is kept of whoever works: an enrolled voice, ways of one's own, forms used most."""
