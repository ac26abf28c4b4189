"""`doorstep settings`: what is in force, what is wrong with it, and its schema."""

import typer

from agent.cli.guard import guarded
from agent.cli.options import SettingsPath

app = typer.Typer(
    help="Show, check or describe the settings.", no_args_is_help=True, rich_markup_mode=None
)


@app.command()
@guarded
def show(settings: SettingsPath = None) -> None:
    """Print every setting in force and where it comes from.

    Example: doorstep settings show --settings company.toml
    """
    import os

    from agent.settings.loader import describe, load

    for line in describe(load(settings, os.environ, {})):
        typer.echo(line)


@app.command()
@guarded
def check(settings: SettingsPath = None) -> None:
    """Check the settings and print every fault at once; exit 2 when there is one.

    Example: doorstep settings check --settings company/
    """
    import os

    from agent.settings.loader import load

    loaded = load(settings, os.environ, {})
    plans, tiers = len(loaded.settings.plans), len(loaded.settings.tiers)
    typer.echo(f"The settings are sound: {plans} plans, {tiers} tiers.")


@app.command()
@guarded
def schema() -> None:
    """Print the JSON Schema of the settings.

    Example: doorstep settings schema > doorstep-settings.schema.json
    """
    import json

    from agent.settings.schema import json_schema

    typer.echo(json.dumps(json_schema(), indent=2))
