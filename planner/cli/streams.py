"""Standard output and error that never end a command: closed, full, or of a code page that lacks a character."""

from __future__ import annotations

import errno
import os
import sys
from contextlib import suppress
from pathlib import Path
from typing import Any, TextIO, cast


class GuardedStream:
    """A text stream to which writing never fails; ``fault`` is why what was written did not arrive.

    Who reads only the first lines (``| head -1``) closes the pipe: what was planned is planned all the same.
    """

    def __init__(self, stream: TextIO) -> None:
        self._stream = stream
        self.fault: OSError | None = None

    def write(self, text: str) -> int:
        """Write a text; where that is impossible, what follows goes nowhere."""
        try:
            return self._stream.write(text)
        except OSError as error:
            self._give_up(error)
            return len(text)

    def flush(self) -> None:
        """Pass on what was written."""
        try:
            self._stream.flush()
        except OSError as error:
            self._give_up(error)

    def _give_up(self, error: OSError) -> None:
        self.fault = self.fault or error
        nowhere = os.open(os.devnull, os.O_WRONLY)
        with suppress(OSError, ValueError):
            os.dup2(nowhere, self._stream.fileno())
        os.close(nowhere)

    def __getattr__(self, name: str) -> Any:
        return getattr(self._stream, name)


def guard_streams() -> None:
    """Put guards before both streams; a closed one leads nowhere, and a character that it lacks shows as '?'."""
    for name in ("stdout", "stderr"):
        stream = getattr(sys, name)
        if stream is None:
            stream = Path(os.devnull).open("w", encoding="utf-8")  # noqa: SIM115 (it stays open to the end)
        elif hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
        setattr(sys, name, GuardedStream(cast(TextIO, stream)))


def lost_output() -> OSError | None:
    """Return why standard output did not arrive; None when it did, or when its reader had enough."""
    sys.stdout.flush()
    sys.stderr.flush()
    fault: OSError | None = getattr(sys.stdout, "fault", None)
    return None if fault is None or fault.errno == errno.EPIPE else fault
