"""Values about metals, as plain TOML files."""
