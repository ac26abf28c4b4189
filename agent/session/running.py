"""The session's hold on its probes: one stop flag, one byte count, shared by all threads."""

from __future__ import annotations

import threading


class VisitRunning:
    """A `Running` for all probes of a visit; thread-safe."""

    def __init__(self) -> None:
        self._stop = threading.Event()
        self._lock = threading.Lock()
        self._bytes = 0

    def stopped(self) -> bool:
        """Return True once the visit was asked to stop."""
        return self._stop.is_set()

    def stop(self) -> None:
        """Ask every probe to end with what it has."""
        self._stop.set()

    def used(self, count_bytes: int) -> None:
        """Add to the bytes the visit has moved."""
        with self._lock:
            self._bytes += count_bytes

    @property
    def bytes_used(self) -> int:
        """Bytes moved so far."""
        with self._lock:
            return self._bytes
