"""Every value of every field of a problem and a plan is read back as it was written: nothing is left out but defaults.

The values come from the type hints alone, so a field that is added to the domain is tried without a change here.
"""

from __future__ import annotations

import dataclasses
import json
import random
import types
import typing
from collections.abc import Mapping
from datetime import date, timedelta
from enum import Enum
from types import MappingProxyType
from typing import Any, NewType

import pytest

from planner.domain.catalogue import LabTest, TubeType
from planner.domain.orders import EarlierDraw, Order, Patient
from planner.domain.places import Corridor, Pickup, Place
from planner.domain.plan import Goal, Unplanned, Visit
from planner.domain.policy import Policy
from planner.domain.revisions.replan import Past, Promised
from planner.domain.staff import Phlebotomist
from planner.exporters.plan_json.codec import decode, encode

KINDS: tuple[type, ...] = (
    Order, Patient, LabTest, TubeType, EarlierDraw, Place, Corridor, Pickup, Phlebotomist, Policy, Unplanned, Visit,
    Goal, Past, Promised,
)  # fmt: skip
"""What a problem and a plan are made of."""


def _value(kind: Any, rng: random.Random) -> Any:
    """Return a random value of a type; often one that says nothing (None, False, empty), which defaults may be too."""
    if isinstance(kind, NewType):
        return _value(kind.__supertype__, rng)
    origin, args = typing.get_origin(kind), typing.get_args(kind)
    if origin in (typing.Union, types.UnionType):
        return _value(rng.choice(args), rng)
    if kind is type(None):
        return None
    if origin is not None and issubclass(origin, Mapping):
        return MappingProxyType({_value(args[0], rng): _value(args[1], rng) for _ in range(rng.randrange(3))})
    if origin is frozenset:
        return frozenset(_value(args[0], rng) for _ in range(rng.randrange(3)))
    if origin is tuple:
        kinds = [args[0]] * rng.randrange(3) if args[-1] is Ellipsis else args
        return tuple(_value(k, rng) for k in kinds)
    if dataclasses.is_dataclass(kind):
        return _instance(typing.cast(type, kind), rng)
    if isinstance(kind, type) and issubclass(kind, Enum):
        return rng.choice(list(kind))
    plain: dict[Any, Any] = {
        bool: rng.random() < 0.5,
        int: rng.choice([0, 1, rng.randrange(100_000)]),
        float: rng.choice([0.0, 0.25, 3.0]),
        str: rng.choice(["", "x", "0007"]),
        date: date(2026, 3, 10) + timedelta(days=rng.randrange(900)),
    }
    return plain[kind]


def _instance(kind: type, rng: random.Random) -> Any:
    hints = typing.get_type_hints(kind)
    for _ in range(200):
        try:
            return kind(**{f.name: _value(hints[f.name], rng) for f in dataclasses.fields(kind)})
        except ValueError:
            continue  # the class refuses such values itself
    raise AssertionError(f"no values for {kind.__name__} found")


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.__name__)
def test_every_field_is_read_back_as_it_was_written(kind: type) -> None:
    for seed in range(150):
        value = _instance(kind, random.Random(f"{kind.__name__} {seed}"))
        assert decode(kind, json.loads(json.dumps(encode(value)))) == value


def test_not_fasting_is_told_apart_from_not_said() -> None:
    # False says "need not fast"; the default None leaves it to the test.
    order = dataclasses.replace(_instance(Order, random.Random(0)), fasting=False)
    assert decode(Order, encode(order)).fasting is False
