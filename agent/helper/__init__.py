"""The small privileged process that may send and hear raw frames."""
