"""Looks at both address families, sound unless a part is replaced."""

from agent.measurements import FamilyLook, FamilyTry, Named

PREFIX = "64:ff9b::/96"


def tried(target, family, connect_ms=12.0, **more):
    """One page over one family: answered with a long page unless a part says otherwise."""
    fields = {
        "target": target,
        "family": family,
        "named": Named.GIVEN,
        "sent_s": 0.1,
        "connect_ms": connect_ms,
        "took_ms": 40.0,
        "status": 200,
        "bytes": 3_000,
    }
    return FamilyTry(**{**fields, **more})


def silent(target, family, **more):
    """Met silence instead of a connection, and again when tried once more."""
    gone = {"connect_ms": None, "status": None, "bytes": None, "took_ms": 3_000.0}
    return tried(target, family, **{**gone, "problem": "timed-out", **more})


def at_once(target, family, problem="no-route"):
    """Failed before anything could be waited for."""
    return silent(target, family, problem=problem, took_ms=2.0)


def swallowed(target, family):
    """Connected, met silence with a full packet, and was answered to a small one."""
    return silent(target, family, connect_ms=12.0, small_status=200)


def unnamed(target, family, named=Named.NONE):
    """A name without an address of the family."""
    return FamilyTry(target=target, family=family, named=named, sent_s=0.1)


def look(*six, four=(), **more):
    """Pages of which each answers over IPv4 unless `four` says otherwise."""
    fours = {t.target: tried(t.target, 4) for t in six} | {t.target: t for t in four}
    fields = {"held": (4, 6), "routed": (4, 6), "request_bytes": 2_000}
    return FamilyLook(**{**fields, "tries": (*fours.values(), *six), **more})
