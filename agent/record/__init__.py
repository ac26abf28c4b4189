"""The versioned record: exact round trip, atomic write, hash."""
