"""Turns frozen dataclasses into plain JSON values and back, exactly, guided by their type hints."""

from __future__ import annotations

import dataclasses
import json
import types
import typing
from collections.abc import Mapping
from datetime import date
from enum import Enum
from functools import cache
from types import MappingProxyType
from typing import Any, NewType, TypeVar

from planner.domain.patients.births import PartialDate

T = TypeVar("T")

_ABSENT: tuple[object, ...] = (None, False, "", (), frozenset())
"""Defaults that say "nothing stated": such fields are left out. Any other default is written, lest it change."""

_RETIRED = {
    "BloodPolicy": frozenset({"adult_flag_7d_ul", "adult_ml_per_kg_tbv"}),
    "TubePolicy": frozenset({"transfusion_first_choice"}),
    "WindowPolicy": frozenset({"shared_window_s"}),
}
"""Fields of older files that nothing asks for any more: a test's own `first_choice` stands in their place."""


class CodecError(ValueError):
    """A value does not have the form that its type asks for; the message names the place, never the value."""


def encode(value: object) -> Any:
    """Return plain JSON values for a dataclass, an enum, a date, a collection or a scalar.

    Sets are sorted. A mapping whose keys are text becomes an object, any other a list of [key, value] pairs
    (both sorted by key). Dates, whole or of a month or year alone, become ISO 8601, enums their value.
    """
    if isinstance(value, Enum):
        return value.value
    if value is None or isinstance(value, bool | int | float | str):
        return value
    if isinstance(value, date | PartialDate):
        return value.isoformat()
    if isinstance(value, Mapping):
        return _encode_mapping(value)
    if isinstance(value, frozenset):
        return sorted((encode(item) for item in value), key=json.dumps)
    if isinstance(value, tuple):
        return [encode(item) for item in value]
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {f.name: encode(getattr(value, f.name)) for f in dataclasses.fields(value) if _is_said(value, f)}
    raise TypeError(f"cannot write a {type(value).__name__}")


def decode(kind: type[T], data: object) -> T:
    """Return the value of this type that `encode` wrote.

    Raises
    ------
    CodecError
        If the data do not have the form of the type, or the type refuses them.
    """
    return typing.cast(T, _decode(kind, data, kind.__name__))


def _is_said(owner: object, field: dataclasses.Field[Any]) -> bool:
    """Return whether a field is written: False where the default is None says something, and is."""
    value = getattr(owner, field.name)
    return not (_is_absent(field.default) and type(value) is type(field.default) and value == field.default)


def _is_absent(value: object) -> bool:
    return any(value is absent or (type(value) is type(absent) and value == absent) for absent in _ABSENT)


def _encode_mapping(value: Mapping[Any, Any]) -> Any:
    pairs = [(encode(key), encode(item)) for key, item in value.items()]
    if all(isinstance(key, str) for key, _ in pairs):
        return dict(sorted(pairs))
    return [list(pair) for pair in sorted(pairs, key=lambda pair: json.dumps(pair[0]))]


@cache
def _hints(kind: type) -> dict[str, Any]:
    return typing.get_type_hints(kind)


def _decode(kind: Any, data: object, path: str) -> Any:
    if isinstance(kind, NewType):
        return _decode(kind.__supertype__, data, path)
    origin = typing.get_origin(kind)
    if origin in (typing.Union, types.UnionType):
        return _decode_union(kind, data, path)
    if origin is not None:
        return _decode_collection(origin, typing.get_args(kind), data, path)
    if dataclasses.is_dataclass(kind) and kind is not PartialDate:
        return _decode_dataclass(typing.cast(type, kind), data, path)
    return _decode_scalar(kind, data, path)


def _decode_union(kind: Any, data: object, path: str) -> Any:
    choices = [choice for choice in typing.get_args(kind) if choice is not type(None)]
    if data is None and len(choices) < len(typing.get_args(kind)):
        return None
    return _decode(choices[0] if len(choices) == 1 else _fitting(choices, data, path), data, path)


def _fitting(choices: list[Any], data: object, path: str) -> Any:
    """Return the one class of several that a value is.

    A data class is told by its ``kind`` if it states one, else by its fields; of two dates the one so written.
    """
    if set(choices) == {date, PartialDate}:
        return date if len(_expect(str, data, path)) == len("2026-01-31") else PartialDate
    if not all(dataclasses.is_dataclass(choice) for choice in choices):
        raise TypeError(f"{path}: only 'a type or None' and a choice of data classes can be read back")
    values = _expect(dict, data, path)
    fitting = [choice for choice in choices if _required(choice) <= values.keys() <= _hints(choice).keys()]
    if len(fitting) > 1:
        fitting = [choice for choice in fitting if _fixed(choice).get("kind", values) == values.get("kind")]
    if len(fitting) != 1:
        raise CodecError(f"{path}: not one of {', '.join(choice.__name__ for choice in choices)}")
    return fitting[0]


@cache
def _fixed(kind: Any) -> dict[str, Any]:
    """Return the fields that every value of a data class has alike, as they are written."""
    return {f.name: encode(f.default) for f in dataclasses.fields(kind) if not f.init}


def _required(kind: Any) -> set[str]:
    missing = dataclasses.MISSING
    return {f.name for f in dataclasses.fields(kind) if f.default is missing and f.default_factory is missing}


def _decode_collection(origin: Any, args: tuple[Any, ...], data: object, path: str) -> Any:
    if issubclass(origin, Mapping):
        return MappingProxyType(_decode_mapping(args, data, path))
    items = _expect(list, data, path)
    if origin is frozenset:
        return frozenset(_decode(args[0], item, f"{path}[{i}]") for i, item in enumerate(items))
    kinds = [args[0]] * len(items) if args[-1] is Ellipsis else list(args)
    if len(kinds) != len(items):
        raise CodecError(f"{path}: {len(kinds)} entries expected, {len(items)} found")
    return tuple(_decode(k, item, f"{path}[{i}]") for i, (k, item) in enumerate(zip(kinds, items, strict=True)))


def _decode_mapping(args: tuple[Any, ...], data: object, path: str) -> dict[Any, Any]:
    pairs = list(data.items()) if isinstance(data, dict) else _expect(list, data, path)
    result: dict[Any, Any] = {}
    for i, pair in enumerate(pairs):
        if not isinstance(pair, list | tuple) or len(pair) != 2:
            raise CodecError(f"{path}[{i}]: a pair of key and value expected")
        result[_decode(args[0], pair[0], f"{path}[{i}]")] = _decode(args[1], pair[1], f"{path}[{i}]")
    return result


def _decode_dataclass(kind: type, data: object, path: str) -> Any:
    retired = _RETIRED.get(kind.__name__, frozenset())
    values = {name: item for name, item in _expect(dict, data, path).items() if name not in retired}
    hints = _hints(kind)
    if unknown := sorted(values.keys() - hints.keys()):
        raise CodecError(f"{path}: unknown field {unknown[0]!r}")
    fixed = _fixed(kind)
    if wrong := [name for name, item in values.items() if fixed.get(name, item) != item]:
        raise CodecError(f"{path}.{wrong[0]}: not that of {kind.__name__}")
    arguments = {
        name: _decode(hints[name], item, f"{path}.{name}") for name, item in values.items() if name not in fixed
    }
    for field in dataclasses.fields(kind):
        if field.name not in arguments and field.name in _required(kind):
            raise CodecError(f"{path}.{field.name} is missing")
    try:
        return kind(**arguments)
    except (ValueError, TypeError, KeyError) as error:
        raise CodecError(f"{path}: the values do not belong together ({type(error).__name__})") from error


def _decode_scalar(kind: Any, data: object, path: str) -> Any:
    if kind is float and isinstance(data, int) and not isinstance(data, bool):
        return float(data)
    if kind in (str, int, float, bool):
        return _expect(kind, data, path)
    if isinstance(kind, type) and issubclass(kind, Enum):
        try:
            return kind(data)
        except ValueError as error:
            raise CodecError(f"{path}: not a value of {kind.__name__}") from error
    if kind is date or kind is PartialDate:
        try:
            return kind.fromisoformat(_expect(str, data, path))
        except ValueError as error:
            raise CodecError(f"{path}: not a date") from error
    raise TypeError(f"{path}: cannot read a {kind}")


def _expect(kind: type[T], data: object, path: str) -> T:
    if type(data) is not kind:
        raise CodecError(f"{path}: {kind.__name__} expected, {type(data).__name__} found")
    return data
