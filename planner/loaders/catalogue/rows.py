"""Cells of a catalogue row, all text, into a `LabTest` or a `TubeType`; a cell that cannot be is a `CellError`."""

from __future__ import annotations

import re

from planner.domain.catalogue import (
    ClockRule,
    CountsFrom,
    DoseKind,
    DoseRule,
    Handling,
    Importance,
    LabTest,
    SizeUse,
    TestCode,
    TubeCode,
    TubeSize,
    TubeType,
)
from planner.loaders.catalogue.cells import (
    MAX_VOLUME_ML,
    CellError,
    Cells,
    clock_s,
    flag,
    member,
    minutes_s,
    number,
    parts,
    whole,
)
from planner.loaders.catalogue.limits import parse_closed, parse_tube_limits
from planner.units import hours_to_s, minutes_to_s, ml_to_ul

MAX_BEDSIDE_LETTERS = 140
"""What a line of a card holds at arm's length (engineering choice)."""


def loinc_check_digit(number: str) -> int:
    """Return the mod-10 check digit of the digits before the hyphen of a LOINC code (LOINC Users' Guide).

    Steps, for 12345: take the odd places from the right as one number (531), double it (1062), put the even
    places from the right before it (42, so 421062), add the digits (15); what is missing to the next multiple
    of ten is the check digit (5).
    """
    odd, even = number[::-1][::2], number[::-1][1::2]
    total = sum(int(digit) for digit in even + str(2 * int(odd)))
    return -total % 10


def parse_accepts(text: str) -> tuple[tuple[TubeCode, ...], ...]:
    """Return alternatives in preference order: ``BCA+BCN;BCP`` is both bottles together, or the third alone."""
    alternatives = tuple(
        tuple(TubeCode(code.strip()) for code in alternative.split("+"))
        for alternative in text.split(";")
        if alternative.strip()
    )
    if not alternatives or any(not code for alternative in alternatives for code in alternative):
        raise CellError("tubes", f"{text!r} does not list tube codes like EDTA;HEPG or BCA+BCN")
    return alternatives


def parse_dose_rule(text: str) -> DoseRule | None:
    """Return the rule of a cell such as ``trough:0-30``, ``post_dose:360+`` (minutes) or ``protocol``.

    The word ``stat`` behind it, as in ``post_dose:240+ stat``, holds even a stat from a stated dose.
    """
    if not text.strip():
        return None
    match = re.fullmatch(r"(\w+)(?::(\d+)(?:-(\d+)|\+))?( stat)?", text.strip())
    if match is None or match[1] not in set(DoseKind) or (match[1] == DoseKind.PROTOCOL) != (match[2] is None):
        raise CellError("dose_rule", f"{text!r} is not a rule like trough:0-30, post_dose:360+ or protocol")
    if match[4] and match[1] in (DoseKind.TROUGH, DoseKind.PROTOCOL):
        raise CellError("dose_rule", f"{text!r}: only a time after a dose can hold a stat")
    if match[2] is None:
        return DoseRule(kind=DoseKind.PROTOCOL)
    to_s = minutes_to_s(int(match[3])) if match[3] else None
    rule = DoseRule(kind=DoseKind(match[1]), from_s=minutes_to_s(int(match[2])), to_s=to_s, holds_stat=bool(match[4]))
    if to_s is not None and to_s < rule.from_s:
        raise CellError("dose_rule", f"{text!r} ends before it begins")
    if match[1] == DoseKind.TROUGH and to_s is None:
        raise CellError("dose_rule", f"{text!r} has no upper end; a trough is a span before the next dose")
    return rule


def parse_serial(text: str) -> tuple[tuple[int, ...], ...]:
    """Return the offsets in seconds of each protocol: ``0;60|0;120`` (minutes) are two protocols."""
    if not text.strip():
        return ()
    try:
        protocols = tuple(
            tuple(minutes_to_s(int(offset)) for offset in protocol.split(";")) for protocol in text.split("|")
        )
    except ValueError:
        raise CellError("serial_min", f"{text!r} is not minutes like 0;60|0;120") from None
    if any(list(p) != sorted(set(p)) or p[0] < 0 for p in protocols):
        raise CellError("serial_min", f"{text!r} does not rise from 0 or later")
    return protocols


def parse_sizes(text: str) -> tuple[TubeSize, ...]:
    """Return sizes by draw volume: ``adult:2.7;child:1.0`` in mL; uses are adult, small and child."""
    sizes = []
    for part in text.split(";"):
        use, _, volume = part.partition(":")
        draw_ul = ml_to_ul(number({"sizes": volume}, "sizes", MAX_VOLUME_ML))
        if draw_ul == 0:
            raise CellError("sizes", f"{part.strip()!r}: a tube draws more than nothing")
        sizes.append(TubeSize(draw_ul=draw_ul, use=member("sizes", use.strip(), SizeUse)))
    return tuple(sorted(sizes, key=lambda size: size.draw_ul))


def _clock_rule(cells: Cells) -> ClockRule | None:
    start, end = cells.get("window_start", "").strip(), cells.get("window_end", "").strip()
    if not start and not end:
        return None
    from_s, to_s = clock_s("window_start", start), clock_s("window_end", end)
    if to_s < from_s:
        raise CellError("window_end", f"{end!r} is before {start!r}")
    return ClockRule(from_s=from_s, to_s=to_s, is_required=_is_required(cells, "window_strength"))


def _is_required(cells: Cells, column: str) -> bool:
    text = cells.get(column, "").strip().lower()
    if text not in ("required", "preferred", ""):
        raise CellError(column, f"{text!r} is neither required nor preferred")
    return text == "required"


def _loinc(cells: Cells) -> str:
    text = cells.get("loinc", "").strip()
    if text and not re.fullmatch(r"\d{1,7}-\d", text):
        raise CellError("loinc", f"{text!r} is not a LOINC code like 2345-7")
    if text and loinc_check_digit(text[:-2]) != int(text[-1]):
        raise CellError("loinc", f"{text!r} has a wrong check digit: {loinc_check_digit(text[:-2])} is expected")
    return text


def parse_test(cells: Cells) -> LabTest:
    """Return the test of a row.

    Raises
    ------
    CellError
        If a cell cannot be; the first such cell is named.
    """
    group = cells.get("share_group", "").strip()
    handling = frozenset(member("handling", code, Handling) for code in parts(cells, "handling"))
    min_ul = ml_to_ul(number(cells, "min_ml", MAX_VOLUME_ML))
    if min_ul == 0:
        raise CellError("min_ml", "a test needs more than 0 mL")
    return LabTest(
        code=TestCode(cells["test"].strip()),
        name=cells["name"].strip(),
        loinc=_loinc(cells),
        loinc_name=cells.get("loinc_name", "").strip(),
        section=cells.get("section", "").strip(),
        accepts=parse_accepts(cells["tubes"]),
        min_volume_ul=min_ul,
        add_volume_ul=ml_to_ul(number(cells, "add_ml", MAX_VOLUME_ML)),
        share_group=None if group.lower() == "own" else group,
        min_fill_pct=whole(cells, "min_fill_pct", 100, 0),
        containers=max(1, whole(cells, "containers", 10, 1)),
        handling=handling,
        max_room_s=minutes_s(cells, "max_rt_min"),
        max_ice_s=minutes_s(cells, "max_ice_min"),
        max_warm_s=minutes_s(cells, "max_37c_min"),
        fasting_s=hours_to_s(number(cells, "fasting_h", 48, 0)),
        fasting_required=_is_required(cells, "fasting_strength"),
        clock_rule=_clock_rule(cells),
        dose_rule=parse_dose_rule(cells.get("dose_rule", "")),
        serial_offsets=parse_serial(cells.get("serial_min", "")),
        serial_tolerance_s=minutes_s(cells, "serial_tol_min"),
        notes=cells.get("notes", "").strip(),
        source=cells.get("source", "").strip(),
        tube_limits=parse_tube_limits(cells.get("limits_by_tube", "")),
        child_min_volume_ul=_child_min_ul(cells, min_ul),
        first_choice=flag(cells, "first_choice") if cells.get("first_choice", "").strip() else None,
        one_kind_in_series=flag(cells, "one_kind_in_series"),
        counts_from=_counts_from(cells),
        closed=parse_closed(cells.get("closed", "").strip(), is_weekday_only=Handling.WEEKDAY_ONLY in handling),
        bedside=_bedside(cells),
        importance=_importance(cells),
        capillary_min_volume_ul=_capillary_min_ul(cells),
    )


def _child_min_ul(cells: Cells, min_ul: int) -> int | None:
    if not cells.get("child_min_ml", "").strip():
        return None
    child_ul = ml_to_ul(number(cells, "child_min_ml", MAX_VOLUME_ML))
    if not 0 < child_ul <= min_ul:
        raise CellError("child_min_ml", f"{cells['child_min_ml']!r} mL is not more than 0 and at most min_ml")
    return child_ul


def _capillary_min_ul(cells: Cells) -> int | None:
    if not cells.get("capillary_min_ml", "").strip():
        return None
    least_ul = ml_to_ul(number(cells, "capillary_min_ml", MAX_VOLUME_ML))
    if least_ul == 0:
        raise CellError("capillary_min_ml", "a test needs more than 0 mL")
    return least_ul


def _sizes(cells: Cells) -> tuple[TubeSize, ...]:
    """Return the sizes of a kind, those for draws from the skin among them: ``0.25;0.5`` in a column of their own."""
    sizes = parse_sizes(cells["sizes"])
    if small := parts(cells, "capillary_sizes"):
        sizes += parse_sizes(";".join(f"{SizeUse.CAPILLARY.value}:{volume}" for volume in small))
    return tuple(sorted(sizes, key=lambda size: size.draw_ul))


def _importance(cells: Cells) -> Importance:
    text = cells.get("importance", "").strip().lower()
    return member("importance", text, Importance) if text else Importance.USUAL


def _counts_from(cells: Cells) -> CountsFrom | None:
    text = cells.get("counts_from", "").strip().lower()
    return member("counts_from", text, CountsFrom) if text else None


def _bedside(cells: Cells) -> str:
    text = " ".join(cells.get("bedside", "").split())
    if len(text) > MAX_BEDSIDE_LETTERS:
        raise CellError("bedside", f"{len(text)} letters; a card holds {MAX_BEDSIDE_LETTERS}")
    return text


def parse_tube(cells: Cells) -> TubeType:
    """Return the tube kind of a row.

    Raises
    ------
    CellError
        If a cell cannot be; the first such cell is named.
    """
    clot = cells.get("clot_minutes", "").strip()
    return TubeType(
        code=TubeCode(cells["code"].strip()),
        name=cells["name"].strip(),
        additive=cells["additive"].strip(),
        iso_code=cells.get("iso_code", "").strip(),
        closure=cells["closure"].strip(),
        rank=whole(cells, "rank", 99),
        rank_within=whole(cells, "rank_within", 99, 0),
        inversions=cells["inversions"].strip(),
        sizes=_sizes(cells),
        min_fill_pct=whole(cells, "min_fill_pct", 100),
        filled_to_need=flag(cells, "filled_to_need"),
        is_culture=flag(cells, "is_culture"),
        has_gel=flag(cells, "has_gel"),
        has_lithium_heparin=flag(cells, "has_lithium_heparin"),
        clot_minutes=whole(cells, "clot_minutes", 1440) if clot else None,
        used_for=cells.get("used_for", "").strip(),
        source=cells.get("source", "").strip(),
        capillary_rank=_capillary_rank(cells),
        capillary_name=cells.get("capillary_name", "").strip(),
        bedside=_bedside(cells),
    )


def _capillary_rank(cells: Cells) -> int | None:
    return whole(cells, "capillary_rank", 99) if cells.get("capillary_rank", "").strip() else None
