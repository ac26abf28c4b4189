"""TOML to frozen settings; all faults at once."""
