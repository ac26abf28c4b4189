"""Random bytes that no link can compress, held once in memory and sent over and over."""

from __future__ import annotations

import mmap
import os
import sys
import tempfile
from pathlib import Path
from types import TracebackType
from typing import Self

SIZE = 16 * 1_048_576


class Payload:
    """`size` random bytes as a file descriptor for sendfile and as a view for TLS."""

    def __init__(self, size: int = SIZE) -> None:
        self.size = size
        self.descriptor = _memory_file()
        with os.fdopen(os.dup(self.descriptor), "wb") as file:
            for _ in range(0, size, 1_048_576):
                file.write(os.urandom(min(size, 1_048_576)))
        self._map = mmap.mmap(self.descriptor, size, access=mmap.ACCESS_READ)
        self.view = memoryview(self._map)

    def close(self) -> None:
        """Give the memory back."""
        self.view.release()
        self._map.close()
        os.close(self.descriptor)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        _kind: type[BaseException] | None,
        _error: BaseException | None,
        _: TracebackType | None,
    ) -> None:
        self.close()


def _memory_file() -> int:
    if sys.platform == "linux":
        return os.memfd_create("doorstep-payload")
    descriptor, path = tempfile.mkstemp()
    Path(path).unlink()
    return descriptor
