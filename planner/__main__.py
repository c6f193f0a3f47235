"""Where the program ``planner`` and ``python -m planner`` begin: loads the command line, which takes a moment."""

import sys

STOPPED = 130
"""Exit code after Ctrl-C: 128 and the number of the signal, as shells have it (POSIX)."""


def main() -> None:
    """Run the command line; Ctrl-C ends it without a traceback, while it is still loading too."""
    try:
        from planner.cli.app import main as run

        run()
    except KeyboardInterrupt:
        sys.exit(STOPPED)


if __name__ == "__main__":
    main()
