"""Trade words, as TOML."""
