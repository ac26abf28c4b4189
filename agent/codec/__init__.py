"""Bytes to frozen messages and back, through one bounded reader."""
