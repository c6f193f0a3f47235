"""A patient as far as the rows tell, before a place is found and the rows are read in full."""

from __future__ import annotations

from dataclasses import dataclass, field

from planner.domain.orders import PatientId
from planner.domain.places import PlaceId
from planner.domain.plan import ListedPerson, SetAside
from planner.findings import Source
from planner.loaders.tables.records import Record


@dataclass(slots=True)
class PatientDraft:
    """A patient as far as the rows tell. ``fault`` is why no order of the patient can be planned."""

    id: PatientId
    records: list[Record]
    order_ids: list[str] = field(default_factory=list)
    ward: str = ""
    bed: str = ""
    place: PlaceId | None = None
    fault: SetAside | None = None
    order_records: list[Record] = field(default_factory=list)
    """The rows of the patient's orders, for what their columns say beyond the order."""
    lacks_ward: bool = False
    """True when the round has several wards and nothing says in which of them the bed is."""
    is_listed: bool = False
    """True when the patient table lists the patient, so also without orders."""
    unknown_precautions: list[tuple[str, Source]] = field(default_factory=list)
    """Words about isolation that nobody knows, named with their column, each with its cell."""
    person: ListedPerson | None = None
    """Who the rows say the patient is; None while nobody has read them, and where they name two people."""

    @property
    def is_placed(self) -> bool:
        """True when somebody can be sent to the patient."""
        return self.place is not None and self.fault is None

    @property
    def source_record(self) -> Record:
        """The row that findings about the patient point to."""
        return self.records[0]
