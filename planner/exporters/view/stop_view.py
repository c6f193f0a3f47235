"""The stops of a route, ready to print: a bed, a hand-over, a break, in final wording (see `round_view`)."""

from __future__ import annotations

from dataclasses import dataclass

from planner.domain.draws import Asked
from planner.exporters.view.cards.windows import DrawLimits, Mark, MarkKind
from planner.exporters.view.words import count_words


def container_label(name: str, closure: str) -> str:
    """Return name and closure colour of a container, the latter unless the name says it."""
    return name if not closure or closure.casefold() in name.casefold() else f"{name}, {closure}"


@dataclass(frozen=True, slots=True, kw_only=True)
class TubeLine:
    """One kind of container within a draw; several equal ones in a row stand together (``positions`` "2-3")."""

    positions: str
    count: int
    kind: str
    """Code of the kind of container, as the legend has it."""
    name: str
    additive: str
    closure: str
    size: str
    inversions: str
    tests: str
    test_names: tuple[str, ...]
    """As the order list names them: what the legend explains."""
    handling: str
    """What this tube needs after filling, in plain words; empty when nothing."""
    is_special: bool
    """True when it travels on ice, warm, dark or by hand, or is labelled by stricter rules."""
    site_head: str = ""
    """Stands above the first tube of each further site of a draw: a new needle, and clean skin."""
    fills: tuple[tuple[int, tuple[str, ...], int | None], ...] = ()
    """Each container by its position in the order of draw, the numbers of the orders that it serves, and of the stop
    at which it is given away."""

    @property
    def label(self) -> str:
        """Name and closure colour, the latter unless the name says it."""
        return container_label(self.name, self.closure)


@dataclass(frozen=True, slots=True, kw_only=True)
class GoesTo:
    """Which hand-over some tubes of a visit are to catch."""

    which: str
    """The tubes, such as "tube 1"; empty where all of the visit go there."""
    where: str
    """Such as "courier 06:15 at Nurses' station": for a text that stands alone."""
    stop: str
    """Such as "stop 12, courier 06:15": for a sheet on which that stop is printed."""
    limit: str
    """The latest receipt, such as "tube 1 in lab by 06:31"; empty where the specimens keep longer."""

    @property
    def words(self) -> str:
        """All of it with the place."""
        return self._said(self.where)

    @property
    def by_stop(self) -> str:
        """All of it with the number of the stop in place of the place: one line of a card."""
        return self._said(self.stop)

    def _said(self, how: str) -> str:
        return f"{self.which}{': ' if self.which else ''}{how}{'; ' if self.limit else ''}{self.limit}"


@dataclass(frozen=True, slots=True, kw_only=True)
class AnswerField:
    """What a card asks to write down, as a field of the page; the sheet has room behind the question."""

    asked: Asked
    label: str
    order_numbers: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitView:
    """A stop at a bed, in the order in which the eye needs it: where, when, who, wear, ask, tubes, where they go."""

    number: int
    bed: str
    """What the bed is called: with its ward on a round of several wards."""
    label: str
    """The bed without its ward, to be printed large beside it."""
    ward: str
    at: str
    draw_at: str
    window: str
    too_late: str
    """What to do past the end of the window, said of urgent draws; the rule for all stands above the stops."""
    marks: tuple[Mark, ...]
    limits: DrawLimits | None = None
    """Between which times its specimens count; None where nothing is drawn."""
    name: str
    born: str
    patient_number: str
    wear: tuple[str, ...]
    alerts: tuple[str, ...]
    not_drawn: tuple[str, ...]
    """Orders of the patient that this card does not draw, each with why in a few words."""
    ask: tuple[str, ...]
    answers: tuple[AnswerField, ...] = ()
    do: tuple[str, ...]
    """What the draw itself needs: no tourniquet, sterile technique."""
    tubes: tuple[TubeLine, ...]
    num_tubes: int
    total: str
    needle: str
    needle_why: str
    """Why this needle; empty for a plain draw."""
    goes_to: tuple[GoesTo, ...]
    """Which hand-over to catch, by tubes, with the latest time of receipt where that is tight."""
    order_numbers: tuple[str, ...]
    """The orders that the visit serves: what a progress file names."""
    courier: str = ""
    """How little is left at the courier to be caught; empty when enough."""
    why_now: str = ""
    """Why this bed goes before a stat, and until when; empty for all others."""
    bedside: tuple[str, ...] = ()
    """What the laboratory's rows say of tests at this bed; what many beds need stands in `RouteView.bedside`."""
    change_word: str = ""
    """NEW, MOVED or OTHER TUBES where the last sheet has it otherwise."""
    change: str = ""
    """What changed, such as "moved from 05:37"."""
    way: str = ""
    """To which ward and floor it goes from here, and through what; empty where the ward is that of the stop before."""
    wait: str = ""
    """How long the plan waits at the bed, and what to do meanwhile; empty where it does not."""
    sites: int = 1
    """Places where a needle goes in: so many needles."""
    keep_out: str = ""
    """Why nobody goes in before the lead has said so; then nothing is worn, asked, drawn or given. Else empty."""
    slip: str = ""
    """How much later it may begin before anything is lost: "can slip 9 min"."""

    @property
    def needles(self) -> str:
        """The needle, with number and sites where there are several: '2 x 21G, 2 sites'."""
        return self.needle if self.sites < 2 else f"{self.sites} x {self.needle}, {self.sites} sites"

    @property
    def puncture(self) -> str:
        """The needles, tubes and the blood in all; empty where nothing is drawn."""
        return ", ".join(filter(None, (self.needles, self.tube_count, self.total)))

    @property
    def tube_count(self) -> str:
        """How many tubes are drawn, so that none is forgotten; empty where none is."""
        return count_words(self.num_tubes, "tube") if self.num_tubes else ""

    @property
    def is_pressing(self) -> bool:
        """True when little or no time is left for the draw: its time must catch the eye."""
        return any(mark.kind in (MarkKind.TIGHT, MarkKind.LATE) for mark in self.marks)

    @property
    def when(self) -> str:
        """When the draw may be made, and when it is planned; empty when any time of the round will do."""
        if not (self.window or self.is_pressing):
            return ""
        return "; ".join(
            words for words in (self.window, f"draw at {self.draw_at}", self.courier, self.too_late) if words
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class HandoverView:
    """A stop at which specimens leave the phlebotomist's hands."""

    number: int
    at: str
    place: str
    what: str
    """Such as "Courier leaves 06:15"."""
    leaves: bool
    """True when a courier takes it at a set time."""
    num_tubes: int
    contents: str
    """Containers by kind."""
    beds: str
    """Containers by bed."""
    special: str
    """What goes on ice, warm, dark or by hand, and who carries it; empty when nothing."""
    arrives: str
    limit: str = ""
    """When its first specimen must be in the laboratory, should the courier be missed."""
    fallback: str = ""
    """What to do when the tube station is down; empty for other hand-overs."""
    slip: str = ""
    """As of a visit."""
    wait: str = ""
    """As of a visit."""
    way: str = ""
    """How to come there from a ward, on a round of several."""

    @property
    def where(self) -> str:
        """Where, how and until when: 'Courier shelf. Courier leaves 07:05; in the lab 07:17, limit 08:00'."""
        return f"{self.place}. {self.what}; in the lab {self.arrives}{f', limit {self.limit}' if self.limit else ''}"

    @property
    def headline(self) -> str:
        """All of it, and how far the stop may slip."""
        return self.where + (f"; {self.slip}" if self.slip else "")


@dataclass(frozen=True, slots=True, kw_only=True)
class BreakView:
    """A break."""

    number: int
    at: str
    until: str
    place: str
    slip: str = ""
    """As of a visit."""
    wait: str = ""
    """As of a visit."""
    way: str = ""
    """As of a hand-over."""

    @property
    def headline(self) -> str:
        """Until when and where, and how far it may slip."""
        return f"until {self.until}, {self.place}" + (f"; {self.slip}" if self.slip else "")


StopView = VisitView | HandoverView | BreakView
