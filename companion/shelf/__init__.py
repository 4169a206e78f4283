"""Cards, sheets and tables as they stand on the shelf: TOML files read and checked."""
