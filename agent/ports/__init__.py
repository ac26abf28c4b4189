"""Protocols for sockets, HTTP, frames and computer facts, scripted fakes beside them."""
