"""Compiles functions to machine code (numba), and keeps the code on disk where that can be written."""

from __future__ import annotations

import pickle
import sys
import zlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import wraps
from pathlib import Path
from types import ModuleType
from typing import Any, TypeVar, cast

import numba

Compiled = TypeVar("Compiled", bound=Callable[..., object])

UNREADABLE = OSError, EOFError, pickle.UnpicklingError, AttributeError, ImportError, IndexError
"""What reading or writing compiled code raises: the disk, and what Python's `pickle` names for broken files."""


def compiled(function: Compiled) -> Compiled:
    """Compile a function when it is first called; threads run beside it."""
    compiler: Callable[..., Any] = numba.njit
    return cast(Compiled, compiler(function, nogil=True))


def kept_on_disk(*modules: ModuleType) -> Callable[[Compiled], Compiled]:
    """Compile a function, and keep the code on disk where that can be read and written; else it is made anew.

    What is kept knows of changes to the function's own module. ``modules`` are the others whose compiled functions it
    calls: their text is in the name under which it is kept.
    """

    def keep(function: Compiled) -> Compiled:
        anew = compiled(function)
        compiler: Callable[..., Any] = numba.njit
        try:
            texts = b"".join(Path(str(module.__file__)).read_bytes() for module in modules)
            function.__qualname__ += f"-{zlib.crc32(texts):08x}" if modules else ""
            with _folder_of_the_environment():
                kept = compiler(function, cache=True, nogil=True)
        except (RuntimeError, OSError):  # there is no folder to keep it in, or no text to know it by
            return anew

        @wraps(function)
        def run(*arguments: object) -> object:
            try:
                return kept(*arguments)
            except UNREADABLE:  # before any work
                return anew(*arguments)

        return cast(Compiled, run)

    return keep


@contextmanager
def _folder_of_the_environment() -> Iterator[None]:
    """Let the compiler keep code in the virtual environment, where there is one and nobody chose another folder.

    Beside the module it would stay behind when the package is uninstalled, and Python would take the folders that are
    left for the package.
    """
    chosen = numba.config.CACHE_DIR
    if not chosen and sys.prefix != sys.base_prefix:
        numba.config.CACHE_DIR = str(Path(sys.prefix) / "cache")
    try:
        yield
    finally:
        numba.config.CACHE_DIR = chosen
