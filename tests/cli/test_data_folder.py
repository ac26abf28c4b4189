"""Where records go for whoever runs the program."""

from pathlib import Path

import pytest

from agent.cli.output import data_folder


def nobody():
    message = "Could not determine home directory."
    raise RuntimeError(message)


@pytest.mark.parametrize(
    ("system", "variable"),
    [("linux", "XDG_DATA_HOME"), ("win32", "LOCALAPPDATA"), ("darwin", "HOME")],
)
def test_a_user_without_a_home_keeps_records_here(monkeypatch, tmp_path, system, variable):
    monkeypatch.delenv(variable, raising=False)
    monkeypatch.setattr("sys.platform", system)
    monkeypatch.setattr(Path, "home", nobody)
    monkeypatch.chdir(tmp_path)
    assert data_folder().is_relative_to(tmp_path)


def test_a_set_folder_is_taken(monkeypatch, tmp_path):
    """XDG Base Directory Specification: $XDG_DATA_HOME before ~/.local/share."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    assert data_folder() == tmp_path / "doorstep" / "reports"
