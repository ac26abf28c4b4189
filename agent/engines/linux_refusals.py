"""The system's refusals on a probe socket, translated at one place."""

from __future__ import annotations

import errno

from agent.errors import (
    CannotMeasure,
    InterfaceDown,
    NoAddress,
    NoInterface,
    NoRoute,
    NotTaken,
    Refused,
    RightMissing,
    TooLarge,
)
from agent.ports.binding import Binding

ANY_PORT = "of the way to the target"

_ABOUT_THE_PORT: dict[int, type[CannotMeasure]] = {
    errno.ENODEV: NoInterface,
    errno.ENETDOWN: InterfaceDown,
    errno.EADDRNOTAVAIL: NoAddress,
    errno.EAFNOSUPPORT: NoAddress,
    errno.EPROTONOSUPPORT: NoAddress,
}
_ABOUT_THE_TARGET: dict[int, type[CannotMeasure]] = {
    errno.ENETUNREACH: NoRoute,
    errno.EHOSTUNREACH: NoRoute,
    errno.ECONNREFUSED: Refused,
    errno.EMSGSIZE: TooLarge,
}


def refusal(error: OSError, *, binding: Binding, address: str) -> CannotMeasure:
    """Return the error of the tree that an OSError on the way to `address` stands for."""
    interface = binding.interface or ANY_PORT
    about_the_port = _ABOUT_THE_PORT.get(error.errno or 0)
    if about_the_port is not None:
        return about_the_port(interface=interface)
    about_the_target = _ABOUT_THE_TARGET.get(error.errno or 0)
    if about_the_target is not None:
        return about_the_target(address=address)
    if error.errno in {errno.EPERM, errno.EACCES}:
        return RightMissing(right="to send past local rules", purpose=address)
    return NotTaken(address=address, problem=error.strerror or error)
