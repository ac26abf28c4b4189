"""Attempts on ports as a walk with limited hops finds them, for tests of what follows from them."""

from agent.measurements import PortAttempt, PortTarget, ReachLook, ReachOutcome, Transport

OPEN, REFUSED, EXPIRED, SILENT, UNREACHABLE = (
    ReachOutcome.OPEN,
    ReachOutcome.REFUSED,
    ReachOutcome.EXPIRED,
    ReachOutcome.SILENT,
    ReachOutcome.UNREACHABLE,
)
FAR = "192.0.2.80"


def port(name="mail", number=587, address=FAR, **more):
    return PortTarget(name=name, transport=Transport.TCP, port=number, address=address, **more)


def whole(target, outcome, **more):
    return PortAttempt(target=target, sent_s=0.0, outcome=outcome, **more)


def walked(target, *routers, end=SILENT, upto=5):
    """Attempts at every distance: routers answer in their order (None: not), then `end`."""
    found = []
    for at in range(1, upto + 1):
        router = routers[at - 1] if at <= len(routers) else None
        outcome = EXPIRED if router else (end if at > len(routers) else SILENT)
        found.append(whole(target, outcome, hop_limit=at, answered_by=router))
    return found


def look(targets, *attempts, **more):
    """A look; attempts may be given in lists."""
    flat = [a for one in attempts for a in (one if isinstance(one, list) else [one])]
    return ReachLook(waiting_s=1.0, targets=tuple(targets), attempts=tuple(flat), **more)


def blocked(*own, through, end=SILENT, first=SILENT, **target):
    """A look at a blocked port: routers `own` answer for it, `through` for one that passes."""
    targets = (port(**target), port("other", 443, listed=False))
    upto = len(through) + 1
    return look(
        targets,
        whole(0, first),
        whole(1, OPEN, rtt_ms=9.0),
        walked(0, *own, end=end, upto=upto),
        walked(1, *through, end=OPEN, upto=upto),
        card_address="203.0.113.77",
    )
