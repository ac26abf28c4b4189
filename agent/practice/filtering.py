"""Rules of nftables given to a host of a built network."""

from __future__ import annotations

from agent.errors import PracticeBroken
from agent.practice.services import find
from agent.practice.stage import Stage


def load_table(stage: Stage, host: str, table: str, nft: str | None) -> None:
    """Give a host a table, with the program nft. Raises PracticeBroken where it takes none."""
    if nft is None or not stage.run_now(host, (nft, "-f", "-"), table):
        raise PracticeBroken(problem=f"{host} does not take its filter rules (nftables)")


def strike_table(stage: Stage, host: str, table: str) -> None:
    """Give a host a table that a fault consists of, with what nft this computer has."""
    load_table(stage, host, table, find("nft"))


def strike_packets(stage: Stage, host: str, hook: str, rule: str) -> None:
    """Give a host one rule for the packets at a hook (nft(8)), on top of those it has."""
    chain = f"chain {hook} {{ type filter hook {hook} priority filter; {rule}; }}"
    strike_table(stage, host, f"table inet struck {{\n{chain}\n}}\n")
