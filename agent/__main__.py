"""The command `doorstep`: answers `--version` at once, leaves everything else to the commands."""

from __future__ import annotations

import sys


def main() -> None:
    """Run the command line and leave the process with its exit code."""
    if sys.argv[1:] == ["--version"]:
        from agent import __version__  # noqa: PLC0415 - the version needs no command tree

        sys.stdout.write(f"doorstep {__version__}\n")
        return
    from agent.cli.app import app  # noqa: PLC0415 - loaded only when a command is wanted

    app()


if __name__ == "__main__":
    main()
