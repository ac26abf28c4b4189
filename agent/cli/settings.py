"""`doorstep settings`: what is in force, what is wrong with it, and its schema."""

from typing import Annotated

import typer

from agent.cli.guard import guarded, say
from agent.cli.options import SettingsPath

NARROWEST, WIDEST = 80, 120

app = typer.Typer(
    help="Show, check, search or describe the settings.",
    no_args_is_help=True,
    rich_markup_mode=None,
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

    What is allowed but seldom meant is said on standard error and changes no exit code.

    Example: doorstep settings check --settings company/
    """
    import os

    from agent.settings.loader import load, remarks

    loaded = load(settings, os.environ, {})
    for remark in remarks(loaded):
        say(f"Worth a look: {remark.sentence()}")
    plans, tiers = len(loaded.settings.plans), len(loaded.settings.tiers)
    typer.echo(f"The settings are sound: {plans} plans, {tiers} tiers.")


@app.command()
@guarded
def tiers(
    words: Annotated[
        list[str] | None,
        typer.Argument(
            help="Parts of a name, an access technology, a layer, or a rate such as 100M; "
            "what fits all of them is listed.",
            metavar="[WORDS]...",
            show_default=False,
        ),
    ] = None,
    settings: SettingsPath = None,
) -> None:
    """List the tiers: rates with their layer, what is accepted, set and promised.

    Example: doorstep settings tiers cable 100M
    """
    import os
    import shutil

    from agent.session.tier import tier_facts
    from agent.settings.catalogue import found_tiers
    from agent.settings.loader import load
    from agent.sheet.tiers import Offer, tier_lines

    in_force = load(settings, os.environ, {}).settings
    offers = [
        Offer(
            facts=tier_facts(in_force, tier),
            access=tier.access.value,
            delay_ms=tier.delay_ms,
            loss_ratio=tier.loss_ratio,
            note=tier.note,
        )
        for tier in found_tiers(in_force.tiers, words or ())
    ]
    width = min(WIDEST, max(NARROWEST, shutil.get_terminal_size().columns))
    typer.echo("\n".join(tier_lines(offers, width)))


@app.command()
@guarded
def schema() -> None:
    """Print the JSON Schema of the settings.

    Example: doorstep settings schema > doorstep-settings.schema.json
    """
    import json

    from agent.settings.schema import json_schema

    typer.echo(json.dumps(json_schema(), indent=2))
