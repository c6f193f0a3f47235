"""Every command and option explains itself, and help comes fast."""

from __future__ import annotations

import os
import re
import subprocess
import sys

import pytest
import typer
from typer.testing import CliRunner

from planner.cli.app import app

COMMANDS = typer.main.get_command(app).commands


@pytest.mark.parametrize("name", sorted(COMMANDS))
def test_command_and_options_have_help(name: str) -> None:
    command = COMMANDS[name]
    assert command.help
    for parameter in command.params:
        assert getattr(parameter, "help", None), f"{name}: {parameter.name} has no help"


@pytest.mark.parametrize("name", sorted(COMMANDS))
def test_option_help_says_what_the_default_does(name: str) -> None:
    options = [p for p in COMMANDS[name].params if p.param_type_name == "option" and p.name != "help"]
    missing = [p.name for p in options if "Default" not in (p.help or "")]
    assert missing == []


@pytest.mark.parametrize("name", sorted(COMMANDS))
def test_every_word_of_an_option_s_help_is_printed(name: str) -> None:
    """Words in square brackets are taken for markup and vanish unless they are escaped."""
    printed = CliRunner().invoke(app, [name, "--help"], env={"COLUMNS": "120", "TERMINAL_WIDTH": "120"}).output
    shown = set(re.sub(r"[│╭╮╰╯─]", " ", printed).split())
    for option in COMMANDS[name].params:
        wanted = (option.help or "").replace("\\[", "[").split()
        assert [word for word in wanted if word not in shown] == []


@pytest.mark.slow
@pytest.mark.parametrize("columns", ["40", "60", "80"])
def test_help_cuts_no_word_off_on_a_narrow_terminal(columns: str) -> None:
    # At 40 columns the boxes of the help would shorten 'outputs/<round>' and 'collected' to what fits.
    for name in ("replan", "plan", "explain"):
        done = subprocess.run(
            [sys.executable, "-m", "planner", name, "--help"],
            capture_output=True, text=True, check=True, env=os.environ | {"COLUMNS": columns},
        )  # fmt: skip
        assert "…" not in done.stdout, name


@pytest.mark.slow
def test_help_imports_nothing_heavy() -> None:
    # The limit of 0.5 s is measured in tests/benchmark; what makes it possible is tested here.
    heavy = (
        "ortools",
        "numba",
        "pandas",
        "openpyxl",
        "networkx",
        "planner.domain",
        "planner.loaders",
        "planner.pipeline",
    )
    code = f"import sys, planner.cli.app; print([m for m in {heavy} if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
