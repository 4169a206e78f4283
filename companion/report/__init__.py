"""A log as a page to review, print and hand over."""
