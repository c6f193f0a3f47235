"""Prices that a command tries in place of the site's own, for one plan only."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace

from planner.domain.price_policy import PricePolicy
from planner.domain.problem import Problem
from planner.domain.settings import Setting, Unit
from planner.units import SECONDS_PER_MINUTE


@dataclass(frozen=True, slots=True, kw_only=True)
class TriedPrice:
    """A price that is not the site's: its name, and both values in words with their unit."""

    name: str
    tried: str
    site: str


def price_settings() -> Mapping[str, Setting]:
    """Return what stands beside each field of `PricePolicy`."""
    return {field.name: field.metadata["setting"] for field in fields(PricePolicy)}


def price_name(field: str) -> str:
    """Return what a person calls a price: the name of its field without the unit."""
    return field.removesuffix("_s").removesuffix("_pct")


def price_words(field: str, value: int) -> str:
    """Return the value of a price with its unit: '5 min', '1.5 min', '100 %', '3'."""
    unit = price_settings()[field].unit
    if unit is Unit.SPAN:
        return f"{value / SECONDS_PER_MINUTE:g} min"
    return f"{value} %" if unit is Unit.PERCENT else str(value)


def site_prices(problem: Problem) -> PricePolicy:
    """Return the site's own prices, whatever a command tried."""
    return problem.policy.prices if problem.site_prices is None else problem.site_prices


def with_prices(problem: Problem, tried: Mapping[str, int]) -> Problem:
    """Return the round at the site's prices but for those tried, by field; what was tried before is forgotten."""
    own = site_prices(problem)
    prices = replace(own, **tried)
    policy = replace(problem.policy, prices=prices)
    return replace(problem, policy=policy, site_prices=None if prices == own else own)


def tried_values(problem: Problem) -> Mapping[str, int]:
    """Return the prices of a round that are not the site's, by field, in the field's unit."""
    own, prices = site_prices(problem), problem.policy.prices
    return {name: value for name in price_settings() if (value := getattr(prices, name)) != getattr(own, name)}


def tried_prices(problem: Problem) -> tuple[TriedPrice, ...]:
    """Return the prices of a round that are not the site's, in words."""
    own = site_prices(problem)
    return tuple(
        TriedPrice(name=price_name(name), tried=price_words(name, value), site=price_words(name, getattr(own, name)))
        for name, value in tried_values(problem).items()
    )
