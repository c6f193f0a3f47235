"""Compiles functions to machine code where numba can do so, and keeps the code on disk where that can be written.

A marked function stays the Python function it is. What is compiled is its twin, made when Python first calls an entry
(`kept_on_disk`); it calls the twins of the marked functions that it names, and gives the same numbers. So importing
costs nothing, and where there is no compiler everything works as it is written, only slower.
"""

from __future__ import annotations

import pickle
import sys
import zlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import cache, wraps
from pathlib import Path
from types import FunctionType, ModuleType
from typing import Any, TypeVar, cast

Compiled = TypeVar("Compiled", bound=Callable[..., object])

UNREADABLE = OSError, EOFError, pickle.UnpicklingError, AttributeError, ImportError, IndexError
"""What reading or writing compiled code raises: the disk, and what Python's `pickle` names for broken files."""

_marked: set[object] = set()


def compiled(function: Compiled) -> Compiled:
    """Mark a function that entries call: its twin is compiled with them."""
    _marked.add(function)
    return function


def kept_on_disk(*modules: ModuleType) -> Callable[[Compiled], Compiled]:
    """Make a function an entry: compiled when first called, and kept on disk where that can be read and written.

    What is kept knows of changes to the function's own module. ``modules`` are the others whose compiled functions it
    calls: their text is in the name under which it is kept. Threads run beside it.
    """

    def keep(function: Compiled) -> Compiled:
        made = cache(lambda: _kept_and_new(function, modules))

        @wraps(function)
        def run(*arguments: object) -> object:
            kept, new = made()
            if kept is None:
                return new(*arguments)
            try:
                return kept(*arguments)
            except UNREADABLE:  # before any work
                return new(*arguments)

        return cast(Compiled, run)

    return keep


@cache
def why_slow() -> str | None:
    """Return why functions run as they are written, a hundred times slower; None where they are compiled."""
    try:
        import numba
    except ImportError as error:  # absent, or not for this Python or numpy: it says so itself
        return f"the compiler numba cannot be used ({str(error).splitlines()[0]})"
    return "the compiler numba is switched off (NUMBA_DISABLE_JIT)" if numba.config.DISABLE_JIT else None


def _kept_and_new(
    function: Callable[..., object], modules: tuple[ModuleType, ...]
) -> tuple[Callable[..., object] | None, Callable[..., object]]:
    """Return an entry whose code is kept on disk, None where it cannot be, and one whose code is not kept."""
    if why_slow():
        return None, function
    new = _compiler()(_twin(function), nogil=True)
    try:
        texts = b"".join(Path(str(module.__file__)).read_bytes() for module in modules)
        twin = _twin(function)
        twin.__qualname__ += f"-{zlib.crc32(texts):08x}" if modules else ""
        with _folder_of_the_environment():
            return _compiler()(twin, cache=True, nogil=True), new
    except (RuntimeError, OSError):  # there is no folder to keep it in, or no text to know it by
        return None, new


def _compiler() -> Callable[..., Callable[..., object]]:
    import numba

    return cast(Callable[..., Callable[..., object]], numba.njit)


def _twin(function: Callable[..., object]) -> FunctionType:
    """Return a function like another, but for the marked functions that it names: it names what is compiled of them."""
    assert isinstance(function, FunctionType)
    values = function.__globals__
    named: dict[str, Any] = {
        name: _compiled_twin(values[name])
        for name in function.__code__.co_names
        if isinstance(values.get(name), FunctionType) and values[name] in _marked
    }
    twin = FunctionType(function.__code__, values | named, function.__name__, function.__defaults__)
    twin.__module__, twin.__qualname__ = function.__module__, function.__qualname__
    return twin


@cache
def _compiled_twin(function: Callable[..., object]) -> Callable[..., object]:
    # Only compiled code calls it. What Python or C would call it by takes a fifth of the time to compile.
    return _compiler()(_twin(function), nogil=True, no_cpython_wrapper=True, no_cfunc_wrapper=True)


@contextmanager
def _folder_of_the_environment() -> Iterator[None]:
    """Let the compiler keep code in the virtual environment, where there is one and nobody chose another folder.

    Beside the module it would stay behind when the package is uninstalled, and Python would take the folders that are
    left for the package.
    """
    import numba

    chosen = numba.config.CACHE_DIR
    if not chosen and sys.prefix != sys.base_prefix:
        numba.config.CACHE_DIR = str(Path(sys.prefix) / "cache")
    try:
        yield
    finally:
        numba.config.CACHE_DIR = chosen
