"""One module per promise: from the evidence to criteria."""
