"""The order of segments to groups, one a request: a small state machine that never consults a message grammar.

1. ORC opens a group; OBR opens one too when the open group has an OBR already (or there is no group).
2. TQ1, NTE, OBX, SPM, SAC and unknown segments belong to the open group; before the first group, to the patient.
3. Where specimens come first (O33, O35, or an SPM before any ORC), an SPM holds for the groups that follow it.
4. PV1 and AL1 hold for the groups that follow them: a message may have several visits.
5. A second bed, or a line without its name, makes the groups after it doubtful: a header may be lost there.
6. PID after a group opens prior results: everything up to the next message is a copy of the past.

A grammar would file the second ORC/OBR of an order message as a prior result nested in the first order.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from planner.loaders.messages.hl7.codes import FINAL_RESULTS, OTHER_ORDER_SEGMENTS
from planner.loaders.messages.hl7.segments import BREAK, Segment


@dataclass(slots=True)
class Group:
    """The segments of one request. ``is_copy``: it stands among prior results, or looks like one."""

    orc: Segment | None = None
    obr: Segment | None = None
    timings: list[Segment] = field(default_factory=list)
    notes: list[Segment] = field(default_factory=list)
    observations: list[Segment] = field(default_factory=list)
    specimens: list[Segment] = field(default_factory=list)
    has_sequence: bool = False
    """True when a TQ2 ties its time to another order's."""
    other_kind: str = ""
    """The kind of order that its segments show, where that is none of the laboratory's."""
    patient: Segment | None = None
    visit: Segment | None = None
    allergies: tuple[Segment, ...] = ()
    patient_notes: tuple[Segment, ...] = ()
    patient_observations: tuple[Segment, ...] = ()
    is_to_move: bool = False
    """True when PV2-1 names a place to which the patient is to move."""
    is_copy: bool = False
    doubt: str = ""
    """Why nobody can tell whether the request is this patient's."""
    has_own_control: bool = True
    """False when the request has no ORC of its own and goes by that of the group before."""

    @property
    def follows_text(self) -> bool:
        """True when the line before its first segment is no segment, so that it may be text itself."""
        segment = self.orc if self.has_own_control and self.orc else self.obr
        return segment is not None and segment.follows_text

    @property
    def first(self) -> Segment:
        """The segment that a person would look for."""
        segment = self.obr or self.orc
        if segment is None:
            raise ValueError("a group without ORC and OBR")
        return segment


@dataclass(slots=True)
class _State:
    groups: list[Group] = field(default_factory=list)
    patient: Segment | None = None
    visit: Segment | None = None
    allergies: list[Segment] = field(default_factory=list)
    notes: list[Segment] = field(default_factory=list)
    observations: list[Segment] = field(default_factory=list)
    is_to_move: bool = False
    is_prior: bool = False
    doubt: str = ""
    is_broken: bool = False
    """True from a line without its name to the next request: what stands there belongs to nobody."""
    specimens_first: bool = False
    specimens: list[Segment] = field(default_factory=list)

    def open(self, orc: Segment | None) -> Group:
        """Open a group that takes on what holds for the groups to come."""
        group = Group(
            orc=orc,
            patient=self.patient,
            visit=self.visit,
            allergies=tuple(self.allergies),
            patient_notes=tuple(self.notes),
            patient_observations=tuple(self.observations),
            is_to_move=self.is_to_move,
            is_copy=self.is_prior,
            doubt=self.doubt,
        )
        if self.specimens_first:
            group.specimens.extend(self.specimens)
        self.groups.append(group)
        self.is_broken = False
        return group


def group_orders(segments: Sequence[Segment], specimens_first: bool) -> list[Group]:
    """Return the requests of one message. ``specimens_first``: the message type says so."""
    state = _State(specimens_first=specimens_first)
    for segment in segments:
        _step(state, segment)
    for group in state.groups:
        group.is_copy = group.is_copy or _is_nested_result(group)
    return state.groups


def _step(state: _State, segment: Segment) -> None:
    name = segment.name
    group = state.groups[-1] if state.groups else None
    if name == "ORC":
        state.open(segment)
    elif name == "OBR":
        _request(state, group, segment)
    elif name == "PID":
        state.is_prior = bool(state.groups)
        state.patient, state.visit = segment, state.visit if not state.is_prior else None
    elif name == BREAK:
        state.is_broken = True
        state.doubt = state.doubt or "a line before it has lost its name, and the start of another message may be lost"
    elif name == "PV1":
        if state.groups and not state.is_prior and _is_elsewhere(state.visit, segment):
            state.doubt = state.doubt or "a second bed stands in one message, so the start of another may be lost"
        if group is not None and group.obr is None and not state.is_prior and group.visit is None:
            group.visit = segment
        state.visit, state.is_to_move = segment, False
        if group is not None:
            state.allergies = []
    elif name == "PV2":
        state.is_to_move = segment.has(1)
    elif name == "AL1":
        state.allergies.append(segment)
    elif state.is_broken:
        return
    elif name == "SPM":
        _specimen(state, group, segment)
    elif group is None:
        _of_patient(state, segment)
    else:
        _of_group(group, segment)


def _is_elsewhere(before: Segment | None, now: Segment) -> bool:
    """Return whether a second visit of one message is at another bed than the first."""
    if before is None:
        return False
    return [before.text(3, part) for part in (1, 2, 3)] != [now.text(3, part) for part in (1, 2, 3)]


def _request(state: _State, group: Group | None, segment: Segment) -> None:
    if group is None or group.obr is not None or group.is_copy != state.is_prior or state.is_broken:
        is_same = group is not None and group.is_copy == state.is_prior and not state.is_broken
        control = group.orc if group is not None and is_same else None
        group = state.open(control)
        group.has_own_control = False
    group.obr = segment


def _specimen(state: _State, group: Group | None, segment: Segment) -> None:
    if group is None:
        state.specimens_first = True
    if state.specimens_first:
        state.specimens = [segment]
    elif group is not None:
        group.specimens.append(segment)


def _of_patient(state: _State, segment: Segment) -> None:
    if segment.name == "NTE":
        state.notes.append(segment)
    elif segment.name == "OBX":
        state.observations.append(segment)


def _of_group(group: Group, segment: Segment) -> None:
    name = segment.name
    if name == "TQ1":
        group.timings.append(segment)
    elif name == "NTE":
        group.notes.append(segment)
    elif name == "OBX":
        group.observations.append(segment)
    elif name == "TQ2":
        group.has_sequence = True
    elif name in OTHER_ORDER_SEGMENTS:
        group.other_kind = group.other_kind or OTHER_ORDER_SEGMENTS[name]


def _is_nested_result(group: Group) -> bool:
    """Return whether a request without an ORC and without a number of its own carries results: an old one's copy."""
    obr = group.obr
    if group.has_own_control or obr is None or group.orc is None:
        return False
    own = obr.text(2) or obr.text(3)
    is_new = bool(own) and own not in (group.orc.text(2), group.orc.text(3))
    has_result = obr.text(25) in FINAL_RESULTS or any(o.text(11) in FINAL_RESULTS for o in group.observations)
    return has_result and not is_new
