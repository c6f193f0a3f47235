"""Whether a test can reach the laboratory in time in a tube kind at all; one in which it cannot is left out.

Example: a test keeps 24 h in one kind and an hour in another that would save a tube. When the only courier brings it
to the laboratory two hours after the draw, the other kind saves nothing.
"""

from __future__ import annotations

from collections.abc import Iterator

from planner.domain.catalogue import Handling, LabTest, TubeCode
from planner.domain.draws import VisitRequest
from planner.domain.places import Pickup, PickupKind
from planner.domain.problem import Problem
from planner.tubes.kinds import is_kept_from_tube
from planner.visits.service import least_service


class InTime:
    """The least age at which specimens of one visit can reach the laboratory, were it the only visit of the round."""

    def __init__(self, problem: Problem, request: VisitRequest) -> None:
        self._problem, self._request = problem, request
        lead_s, service_s = least_service(problem, problem.patients[request.patient_id])
        self._rest_s = service_s - lead_s

    def allows(self, test: LabTest, kind: TubeCode) -> bool:
        """Return whether some pickup brings a tube of the kind to the laboratory within the test's limit."""
        limit_s = test.stability_in(kind)
        tube_type = self._problem.catalogue.tubes[kind]
        by_hand = Handling.HAND_DELIVER in test.handling or is_kept_from_tube(self._problem, tube_type, test.mode)
        ages = [
            age_s
            for pickup in self._problem.pickups
            if not (by_hand and pickup.kind is PickupKind.TUBE)
            for age_s in self._ages_s(pickup)
        ]
        return limit_s is None or not ages or min(ages) <= limit_s

    def _ages_s(self, pickup: Pickup) -> Iterator[int]:
        """Yield the seconds from the last possible draw to the laboratory, by departure."""
        try:
            walk_s = self._problem.walking.between(self._request.bed, pickup.place)
        except KeyError:
            return
        ready_s = self._rest_s + walk_s + self._problem.policy.handover.handover_s
        if not pickup.departures_s:
            yield ready_s + pickup.transit_s
        for departs_s in pickup.departures_s:
            draws_s = [
                min(window.latest_s, departs_s - ready_s)
                for window in self._request.windows
                if window.earliest_s <= departs_s - ready_s
            ]
            if draws_s:
                yield departs_s + pickup.transit_s - max(draws_s)
