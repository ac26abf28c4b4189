"""Timing the loaded line from a process of its own, which the load on this one cannot disturb."""
