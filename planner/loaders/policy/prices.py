"""Prices given on the command line: ``moved_stop=5`` tries another price than the site's."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from difflib import get_close_matches

from planner.domain.price_policy import PricePolicy
from planner.domain.prices import price_name
from planner.errors import RequestError
from planner.loaders.policy.fields import PolicyKey, ValueRefusedError, section_fields

_PARAMETER = "price"

Prices = Iterable[str] | Mapping[str, float]
"""Texts ``NAME=NUMBER``, or numbers by name."""


def read_prices(given: Prices) -> Mapping[str, int]:
    """Return prices by the field of `PricePolicy`, in its unit.

    Parameters
    ----------
    given
        Texts ``NAME=NUMBER``, or numbers by name. A name is a key of the policy's section ``[prices]``, or that key
        without its unit: then minutes or percent are meant.

    Raises
    ------
    RequestError
        If a name is unknown or given twice, or a value is no number or out of range; it says all that is wrong.
    """
    keys = _keys()
    pairs = [(name, f"{value:g}") for name, value in given.items()] if isinstance(given, Mapping) else map(_pair, given)
    found: dict[str, int] = {}
    wrong: list[str] = []
    for name, text in pairs:
        key = keys.get(name)
        if key is None:
            wrong.append(_unknown(name, keys))
            continue
        if key.field.name in found:
            wrong.append(f"{price_name(key.field.name)} is given twice; keep one")
            continue
        try:
            found[key.field.name] = key.read(_number(text))
        except ValueRefusedError:
            wrong.append(f"{name}={text} cannot be; write a number: {key.field.setting.range_words}")
    if wrong:
        raise RequestError("; ".join(wrong), _PARAMETER)
    return found


def _keys() -> dict[str, PolicyKey]:
    """Return what reads a value, by every name that a price may be called."""
    found: dict[str, PolicyKey] = {}
    for field in section_fields(PricePolicy):
        found |= {price_name(field.name): field.keys[0], **{key.key: key for key in field.keys}}
    return found


def _pair(text: str) -> tuple[str, str]:
    name, _equals, value = text.partition("=")
    return name.strip().lower().replace("-", "_"), value.strip()


def _number(text: str) -> float:
    try:
        return int(text) if text.isascii() and text.isdigit() else float(text)
    except ValueError:
        raise ValueRefusedError(text) from None


def _unknown(name: str, keys: Mapping[str, PolicyKey]) -> str:
    nearest = get_close_matches(name, keys, n=1, cutoff=0.5)
    names = [price_name(field.name) for field in section_fields(PricePolicy)]
    hint = f"did you mean {nearest[0]}?" if nearest else f"prices: {', '.join(names)}"
    return f"{name!r} is no price; {hint}"
