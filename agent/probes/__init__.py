"""One module per measurement: runs a schedule over a port."""
