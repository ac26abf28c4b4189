"""Commands, progress and exit codes; no logic."""
