"""A virtual home network with a chosen fault."""
