"""Writes JSON the same way each time, with short values on one line so that people and diffs can read it."""

from __future__ import annotations

import json
from typing import Any

from planner.errors import PlanFileError

_WIDTH = 116


def to_json_bytes(value: Any) -> bytes:
    """Return UTF-8 JSON: keys as given, two blanks a level, whatever fits on a line on one line, a newline at the end.

    Raises
    ------
    ValueError
        If a number is not finite.
    """
    return (_lines(value, 0) + "\n").encode("utf-8")


def from_json_bytes(data: bytes, name: str) -> Any:
    """Return the value in a JSON file.

    Raises
    ------
    PlanFileError
        If it is not UTF-8 JSON, breaks off, holds a key twice or a number that is not finite.
    """
    try:
        return json.loads(data.decode("utf-8-sig"), object_pairs_hook=_object, parse_constant=_refuse_constant)
    except json.JSONDecodeError as error:
        raise PlanFileError(f"{name} is damaged: line {error.lineno}, column {error.colno}: {error.msg}") from error
    except UnicodeDecodeError as error:
        raise PlanFileError(f"{name} is damaged: byte {error.start} is not UTF-8 text") from error
    except RecursionError as error:
        raise PlanFileError(f"{name} is damaged: it nests too deep") from error
    except _NotJsonError as error:
        raise PlanFileError(f"{name} is damaged: {error}") from error
    except ValueError as error:  # a whole number of more digits than Python reads
        raise PlanFileError(f"{name} is damaged: a number is beyond all measure") from error


class _NotJsonError(ValueError):
    """Accepted by the parser, but no JSON that this package writes."""


def _object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    result = dict(pairs)
    if len(result) != len(pairs):
        raise _NotJsonError("an object holds a key twice")
    return result


def _refuse_constant(text: str) -> Any:
    raise _NotJsonError(f"{text} is not a number")


def _lines(value: Any, indent: int) -> str:
    flat = json.dumps(value, ensure_ascii=False, allow_nan=False)
    if not value or not isinstance(value, dict | list) or len(flat) + indent <= _WIDTH:
        return flat
    inner = " " * (indent + 2)
    if isinstance(value, dict):
        parts = [f"{inner}{json.dumps(k, ensure_ascii=False)}: {_lines(v, indent + 2)}" for k, v in value.items()]
        return "{\n" + ",\n".join(parts) + "\n" + " " * indent + "}"
    return "[\n" + ",\n".join(inner + _lines(item, indent + 2) for item in value) + "\n" + " " * indent + "]"
