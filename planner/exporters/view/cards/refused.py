"""A patient who refused on this round, and for whom something is to be drawn after all: who goes there knows it."""

from __future__ import annotations

from planner.domain.plan import Outcome, Visit
from planner.exporters.view.context import ViewContext


def refused_words(context: ViewContext, visit: Visit) -> str:
    """Return that the patient of a visit to come refused on this round, and when if somebody was there; else empty."""
    replan = context.problem.replan
    refused = [
        made
        for made in (replan.ended if replan else ())
        if made.patient_id == visit.patient_id and made.outcome is Outcome.REFUSED
    ]
    if replan is None or not refused:
        return ""
    last = max(refused, key=lambda made: made.draw_s)
    was_there = last in replan.visits
    return f"refused at {context.clock(last.draw_s)}" if was_there else "refused"


def refusal_questions(context: ViewContext, visit: Visit) -> tuple[str, ...]:
    """Return what to ask first a patient who refused before."""
    words = refused_words(context, visit)
    question = "agrees now? If not, do not draw; tell the nurse and phone the lead."
    return (f"{words.capitalize()}: {question}",) if words else ()
