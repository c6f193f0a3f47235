"""The least instants of a given order of stops, found by trying everything that may be given away at each."""

from __future__ import annotations

import random
from itertools import product

from tests.reference.brute_force import FREE, HAND, REST, Stop, Vector, instants, kinds_of
from tests.reference.tiny import TinyPerson, TinyRound


def best_giving(tiny: TinyRound, person: TinyPerson, stops: tuple[Stop, ...]) -> Vector | None:
    """Return the least (late, delivery with what is urgent, sum of arrivals by bed, wait of stats, end) of a route.

    Whatever each hand-over takes is tried.
    """
    outs = [position for position, stop in enumerate(stops) if stop[0] == "out"]
    options = [("", FREE) if tiny.outlets[stops[p][1]].kind == "tube" else ("", FREE, HAND, FREE + HAND) for p in outs]
    best: Vector | None = None
    for given in product(*options):
        trial = list(stops)
        for position, kinds in zip(outs, given, strict=True):
            trial[position] = ("out", stops[position][1], kinds)
        if _holds_at_end(tiny, trial):
            continue
        timed = instants(tiny, person, tuple(trial))
        if timed is not None and _takes_due_break(person, stops, timed[0]):
            values = (*timed[1], timed[0])
            best = values if best is None else min(best, values)
    return best


def _holds_at_end(tiny: TinyRound, stops: list[Stop]) -> bool:
    held: set[str] = set()
    for what, n, given in stops:
        if what == "bed":
            held |= set(kinds_of(tiny, n))
        held -= {kind for kind in (FREE, HAND) if kind in given}
    return bool(held)


def _takes_due_break(person: TinyPerson, stops: tuple[Stop, ...], over_s: int) -> bool:
    if person.rest is None or REST in stops:
        return True
    return over_s + person.rest_s <= min(person.rest[1], person.until_s)


def random_stops(rng: random.Random, tiny: TinyRound, person: TinyPerson) -> tuple[Stop, ...]:
    """Return stops in some order: beds that the person may see, hand-overs in between, one at the end."""
    beds = [i for i, visit in enumerate(tiny.visits) if person.may_see(visit)]
    rng.shuffle(beds)
    stops: list[Stop] = []
    for bed in beds:
        stops.append(("bed", bed, ""))
        while rng.random() < 0.4:
            stops.append(("out", rng.randrange(len(tiny.outlets)), ""))
    if not stops or stops[-1][0] != "out":
        stops.append(("out", rng.randrange(len(tiny.outlets)), ""))
    if person.rest is not None and rng.random() < 0.7:
        stops.insert(rng.randrange(len(stops)), REST)
    return tuple(stops)
