"""Doorstep: proves that the broadband service sold is the service that arrives."""

__version__ = "0.1.0"
