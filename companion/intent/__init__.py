"""From words to an intent with exact quantities, and what to do about it."""
