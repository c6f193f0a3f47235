"""The words by which people say what came of a visit: English first, common German and French words besides."""

from __future__ import annotations

from collections.abc import Mapping

from planner.domain.plan import Outcome

OUTCOMES: Mapping[str, Outcome] = {
    **dict.fromkeys(
        ("collected", "done", "drawn", "taken", "yes", "y", "x", "ok", "complete", "completed", "success",
         "successful", "entnommen", "abgenommen", "erledigt", "ja", "preleve", "fait", "oui"),
        Outcome.COLLECTED,
    ),
    **dict.fromkeys(
        ("partial", "partly", "part", "partially", "partly collected", "partially collected", "short", "incomplete",
         "teilweise", "partiel"),
        Outcome.PARTIAL,
    ),
    **dict.fromkeys(
        ("refused", "refusal", "declined", "patient refused", "refuses", "abgelehnt", "verweigert", "refuse"),
        Outcome.REFUSED,
    ),
    **dict.fromkeys(
        ("away", "absent", "not there", "not in bed", "off ward", "off the ward", "patient away", "abwesend",
         "nicht da", "absente"),
        Outcome.AWAY,
    ),
    **dict.fromkeys(
        ("unsuccessful", "failed", "fail", "no blood", "two attempts", "unable", "not obtained", "missed",
         "erfolglos", "echec"),
        Outcome.UNSUCCESSFUL,
    ),
    **dict.fromkeys(
        ("recollect", "redraw", "repeat", "draw again", "to be drawn again", "recollection", "wiederholen",
         "a refaire"),
        Outcome.RECOLLECT,
    ),
}  # fmt: skip
"""By the word in small letters without accents."""

NOT_YET = frozenset({"", "-", "no", "n", "not yet", "open", "pending", "to do", "todo", "nein", "offen", "non"})
"""Ways to say that nobody has been there: the row says nothing."""
