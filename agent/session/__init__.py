"""Runs a plan over the engines, then the pure chain; a failed step never loses the others."""
