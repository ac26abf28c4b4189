"""`doorstep serve`: the operator's server in the foreground."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from agent.cli.guard import guarded, log_to, say
from agent.cli.options import LogFile

if TYPE_CHECKING:
    import threading


@guarded
def serve(
    host: Annotated[str, typer.Option(help="Address to listen on.")] = "::",
    port: Annotated[int, typer.Option(min=0, max=65535, help="TCP port; 0 takes a free one.")] = (
        8642
    ),
    reflector_port: Annotated[
        int, typer.Option(min=0, max=65535, help="UDP port of the reflector; 0 takes a free one.")
    ] = 8642,
    answer_port: Annotated[
        int | None,
        typer.Option(
            min=0,
            max=65535,
            help="TCP and UDP port that tells who asks how this server sees them; 0 a free one.",
            show_default=False,
        ),
    ] = None,
    token: Annotated[
        str | None,
        typer.Option(
            envvar="DOORSTEP_SERVE_TOKEN",
            help="Only agents that send this token are served.",
            show_default=False,
        ),
    ] = None,
    server_id: Annotated[str, typer.Option(help="How the card names this server.")] = "doorstep",
    max_seconds: Annotated[float, typer.Option(min=1, help="Longest transfer, in seconds.")] = 60.0,
    max_clients: Annotated[int, typer.Option(min=1, help="Clients served at a time.")] = 50,
    capacity: Annotated[
        str | None,
        typer.Option(
            help="What this server's port carries, in bit/s, such as 1G or 10G; "
            "read from the interface where it says so.",
            show_default=False,
        ),
    ] = None,
    largest_line: Annotated[
        str | None,
        typer.Option(
            help="The fastest line tested here, in bit/s, such as 300M; "
            "without it one that does not say its rate is taken to need the whole port.",
            show_default=False,
        ),
    ] = None,
    certificate: Annotated[
        Path | None,
        typer.Option(help="Certificate chain (PEM) to serve TLS with.", show_default=False),
    ] = None,
    key: Annotated[
        Path | None, typer.Option(help="Its private key (PEM).", show_default=False)
    ] = None,
    log: LogFile = None,
) -> None:
    """Run the operator's server: card, download, upload, delay reflector.

    Example: doorstep serve --port 8642 --token s3cret
    """
    import logging

    from agent.server.app import ServeOptions, ServerAddress
    from agent.server.app import serve as run

    log_to(log)

    def ready(address: ServerAddress) -> None:
        say(f"Serving on {address.url} (reflector on UDP {address.reflector_port}). Ctrl-C ends.")
        if address.capacity_bps is None:
            say("How much its port carries is not known: --capacity keeps tests out of each other.")

    options = ServeOptions(
        host=host,
        port=port,
        reflector_port=reflector_port,
        answer_port=answer_port,
        token=token,
        server_id=server_id,
        max_seconds=max_seconds,
        max_clients=max_clients,
        capacity_bps=_rate_bps(capacity, "--capacity"),
        largest_bps=_rate_bps(largest_line, "--largest-line"),
        certificate=certificate,
        key=key,
        log=logging.getLogger("doorstep").info,
    )
    run(options, ready=ready, stop=_ended_by_signal())


def _rate_bps(text: str | None, option: str) -> int | None:
    """Return an option's rate in bit/s, None where it was not given. Raises UsageError."""
    from agent.cli.asked import rate_bps
    from agent.errors import UsageError

    if text is None:
        return None
    rate = rate_bps(text, option)
    if not rate:
        raise UsageError(
            problem=f"{option} cannot be {text!r}.", remedy="Give a rate above nothing, such as 1G."
        )
    return rate


def _ended_by_signal() -> "threading.Event":
    """Return an event that Ctrl-C or a termination request sets."""
    import signal
    import threading

    stop = threading.Event()
    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, lambda _number, _frame: stop.set())
    return stop
