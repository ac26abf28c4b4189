"""Tying a socket to the interface under test on Windows: by the own address alone.

Windows sends from an address only over the interface that holds it (its strong host model, from
memory of the vendor's reference). Never run on a real system.
"""

from __future__ import annotations

import errno
import socket

from agent.engines.linux_tying import sockaddr
from agent.ports.binding import Binding


def tie(sock: socket.socket, family: int, binding: Binding) -> None:
    """Bind a socket to the own address under test; raises OSError.

    Without an address a named interface could not be kept to.
    """
    own = binding.source(family)
    if own is not None:
        sock.bind(sockaddr(own, 0, family, None))
    elif binding.interface is not None:
        raise OSError(errno.EADDRNOTAVAIL, "no own address is known")
