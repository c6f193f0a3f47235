"""The wards that a policy names, brought to the patients' spelling; a ward that no patient has is a finding."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import TypeVar

from planner.domain.policy import EVERYBODY, Policy
from planner.findings import Report, Severity, Source
from planner.loaders.frame.places import place_key
from planner.loaders.names.known import SiteNames

_Value = TypeVar("_Value")


def with_ward_names(policy: Policy, wards: Iterable[str], names: SiteNames, report: Report) -> Policy:
    """Return the policy with quiet hours, needed-by times and lists of wards under the names of the patients' wards.

    Case and blanks do not count, as in the look-up of places; ``names`` are the site's own.
    """
    named = _Named(tuple(sorted(set(wards))), names)
    told = policy.round
    changed = replace(
        told,
        quiet_hours=_renamed("round.quiet_hours", told.quiet_hours, named, report),
        needed_by_s=_renamed("round.needed_by", told.needed_by_s, named, report),
    )
    blood = replace(
        policy.blood,
        child_wards=_listed("blood.child_wards", policy.blood.child_wards, named, report),
        adult_wards=_listed("blood.adult_wards", policy.blood.adult_wards, named, report),
    )
    return replace(policy, round=changed, blood=blood)


def policy_wards(policy: Policy) -> Iterator[str]:
    """Yield the wards that a policy names."""
    told, blood = policy.round, policy.blood
    named = (*told.quiet_hours, *told.needed_by_s, *blood.child_wards, *blood.adult_wards)
    return (ward for ward in dict.fromkeys(named) if ward != EVERYBODY)


@dataclass(frozen=True, slots=True)
class _Named:
    """The wards of the round's patients, and the site's names of wards."""

    wards: tuple[str, ...]
    names: SiteNames


def _listed(key: str, wards: tuple[str, ...], named: _Named, report: Report) -> tuple[str, ...]:
    return tuple(_renamed(key, dict.fromkeys(wards), named, report))


def _renamed(key: str, by_ward: Mapping[str, _Value], named: _Named, report: Report) -> dict[str, _Value]:
    found: dict[str, _Value] = {}
    for name, value in by_ward.items():
        meant = place_key(named.names.ward(name) or name)
        same = [ward for ward in named.wards if ward == name or (ward not in by_ward and place_key(ward) == meant)]
        if not same and name != EVERYBODY:
            message = f"{key} names ward {name!r}, in which no patient of the round is; check the ward's name"
            where = Source(file="policy.toml", column=key)
            report.add("policy-ward-unknown", Severity.WARNING, message, source=where)
        found.update(dict.fromkeys(same or [name], value))
    return found
