"""Statistics against tier and limits: meets, below, not proven."""
