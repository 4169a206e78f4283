"""Trade arithmetic and tables, each with its source."""
