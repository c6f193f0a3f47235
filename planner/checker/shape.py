"""Are all values of a plan of the type that the domain declares? Types are not enforced by Python itself."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from functools import cache
from types import NoneType, UnionType
from typing import Any, Union, get_args, get_origin, get_type_hints

from planner.checker.broken import Broken
from planner.domain.plan import Plan
from planner.domain.problem import Problem

LARGEST = 2**53
"""No time, volume or weight is larger; beyond it other programs may read a JSON number wrongly (RFC 8259, 6)."""


def plan_shape(problem: Problem, plan: Plan) -> Iterator[Broken]:
    """Every value has the type that the domain declares; a truth value is no whole number."""
    yield from _misfits(plan, Plan, "plan")


def _misfits(value: Any, declared: Any, path: str) -> Iterator[Broken]:
    declared = _plain(declared)
    origin, arguments = get_origin(declared), get_args(declared)
    if origin is tuple and isinstance(value, tuple):
        yield from _tuple_misfits(value, arguments, path)
    elif origin is frozenset and isinstance(value, frozenset):
        for member in value:
            yield from _misfits(member, arguments[0], f"{path}, a member")
    elif isinstance(declared, type) and type(value) is declared:
        if type(value) is int and abs(value) > LARGEST:
            yield Broken(f"{path}: a whole number of {value.bit_length()} bits, expected at most 53")
        elif is_dataclass(declared):
            for name, kind in _fields(declared):
                yield from _misfits(getattr(value, name), kind, f"{path}.{name}")
    elif (member := _member_for(value, declared)) is not None:
        yield from _misfits(value, member, path)
    else:
        yield Broken(f"{path}: found a value of type {type(value).__name__}, expected {_name(declared)}")


def _tuple_misfits(value: tuple[Any, ...], arguments: tuple[Any, ...], path: str) -> Iterator[Broken]:
    if arguments[-1] is Ellipsis:
        arguments = (arguments[0],) * len(value)
    if len(arguments) != len(value):
        yield Broken(f"{path}: found {len(value)} values, expected {len(arguments)}")
        return
    for index, (item, kind) in enumerate(zip(value, arguments, strict=True)):
        yield from _misfits(item, kind, f"{path}[{index}]")


def _member_for(value: Any, declared: Any) -> Any:
    """Return the member of a union that a value claims to be; None when it is none of them, or no union."""
    if get_origin(declared) not in (Union, UnionType):
        return None
    plain = (_plain(member) for member in get_args(declared))
    return next((m for m in plain if type(value) is (get_origin(m) or m)), None)


def _plain(declared: Any) -> Any:
    """Return the type behind a NewType."""
    while hasattr(declared, "__supertype__"):
        declared = declared.__supertype__
    return NoneType if declared is None else declared


@cache
def _fields(declared: Any) -> tuple[tuple[str, Any], ...]:
    """Return names and declared types of a dataclass's fields."""
    hints = get_type_hints(declared)
    return tuple((field.name, hints[field.name]) for field in fields(declared))


def _name(declared: Any) -> str:
    return declared.__name__ if isinstance(declared, type) else str(declared)
