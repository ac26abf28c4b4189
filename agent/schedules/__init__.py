"""What next? objects: no I/O, no clock, no sleep."""
