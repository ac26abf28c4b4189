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

    options = ServeOptions(
        host=host,
        port=port,
        reflector_port=reflector_port,
        token=token,
        server_id=server_id,
        max_seconds=max_seconds,
        max_clients=max_clients,
        certificate=certificate,
        key=key,
        log=logging.getLogger("doorstep").info,
    )
    run(options, ready=ready, stop=_ended_by_signal())


def _ended_by_signal() -> "threading.Event":
    """Return an event that Ctrl-C or a termination request sets."""
    import signal
    import threading

    stop = threading.Event()
    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, lambda _number, _frame: stop.set())
    return stop
