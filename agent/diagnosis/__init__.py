"""Where the fault is, why, and what to do next."""
