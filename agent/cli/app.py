"""The command tree; every command loads what it needs only when it runs."""

from __future__ import annotations

import typer

from agent.cli import measure, pages, practice, serve, settings, visit

app = typer.Typer(
    name="doorstep",
    help="Prove that the broadband service sold is the service that arrives.",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)
app.command("visit")(visit.visit)
app.command("measure")(measure.measure)
app.command("sheet")(pages.sheet)
app.command("compare")(pages.compare)
app.command("verify")(pages.verify)
app.command("serve")(serve.serve)
app.command("practice")(practice.practice)
app.add_typer(settings.app, name="settings")
