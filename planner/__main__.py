"""Runs the command line as ``python -m planner``."""

from planner.cli.app import main

if __name__ == "__main__":
    main()
