"""Lays out the sheets beside the routes: overview, decisions, supplies with hand-overs, legend with cautions."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby
from typing import TYPE_CHECKING

from planner.exporters.sheet_paper import Paper
from planner.exporters.sheet_text import Text
from planner.exporters.sheet_writer import LIGHT, MEDIUM, SheetWriter
from planner.exporters.view import DecisionLine, RoundView
from planner.exporters.words import BOX, count_words

if TYPE_CHECKING:
    from openpyxl.worksheet.worksheet import Worksheet


def write_overview(sheet: Worksheet, view: RoundView, paper: Paper) -> SheetWriter:
    """Write the first sheet: what needs a decision, what is late, who goes where, how good the plan is."""
    writer = SheetWriter(sheet, paper, (30.0, 26.0, 34.0, 56.0, 42.0))
    writer.line(Text(text=view.title, first=1, last=5, size=18, bold=True))
    line = "   ".join(text for text in (view.date, view.wards, view.revision, view.printed) if text)
    writer.line(Text(text=line, first=1, last=5, size=12))
    writer.gap()
    for text in view.summary:
        writer.line(Text(text=text, first=1, last=5, size=11))
    _decisions(writer, view.decisions)
    if view.late:
        _heading(
            writer, f"Late ({len(view.late)})", ("Bed", "Late by", "Orders", "Should be drawn by", "Planned, by whom")
        )
        for late in view.late:
            planned = f"{late.planned}, {late.phlebotomist}"
            _row(writer, (late.bed, late.late, late.orders, late.due, planned), bold_first=True)
    _heading(writer, "Who goes", ("Phlebotomist", "Starts", "First stop", "Hand-overs", "In all"))
    for route in view.routes:
        stops = [s for s in view.collections if s.phlebotomist == route.name]
        first = f"bed {route.visits[0].bed} at {route.visits[0].at}" if route.visits else "none"
        given = ", ".join(f"{c.at} {c.place}" for c in stops) or "none"
        _row(writer, (route.name, route.starts, first, given, route.summary), bold_first=True)
    if view.checks:
        _heading(writer, "Please check", ())
        for check in view.checks:
            writer.line(Text(text=f"{BOX} {check}", first=1, last=5))
    _heading(writer, "How good the plan is (the first goal counts before the second, and so on)", ())
    for goal in view.goals:
        writer.line(
            Text(text=goal.name, first=1, last=1, bold=True),
            Text(text=goal.value, first=2, last=2, bold=True),
            Text(text=goal.proof, first=3, last=4),
            Text(text=goal.meaning, first=5, last=5),
        )
    if view.assumptions:
        _heading(writer, "Assumed, because nothing was given", ())
        for text in view.assumptions:
            writer.line(Text(text=text, first=1, last=5))
    return writer


def write_supplies(sheet: Worksheet, view: RoundView, paper: Paper) -> SheetWriter:
    """Write what to take along and, for each collection, what lies there to tick off."""
    people = [route.initials for route in view.routes]
    width = min(17.0, 60.0 / max(1, len(people)))
    writer = SheetWriter(sheet, paper, (10.0, 84.0, *(width for _ in people), 17.0, 17.0))
    last = 4 + len(people)
    heads = ("", "Take along", *people, "Spare", "Total")
    writer.title(*(Text(text=h, first=i, last=i, bold=True, fill=MEDIUM) for i, h in enumerate(heads, start=1)))
    writer.line(Text(text=view.spare_rule, first=1, last=last))
    for group, lines in groupby(view.supplies, key=lambda line: line.group):
        with writer.block():
            writer.line(Text(text=group, first=1, last=last, bold=True, size=11, fill=LIGHT))
            for line in lines:
                numbers = [str(n) if n else "" for n in (*line.needed, line.spare)]
                cells = (BOX, line.item, *numbers, str(line.total))
                writer.line(
                    *(
                        Text(text=text, first=i, last=i, bold=i == last or i == 2)
                        for i, text in enumerate(cells, start=1)
                    ),
                    rule=True,
                )
    writer.gap(10)
    writer.line(Text(text="Hand-overs: count, then tick", first=1, last=last, size=14, bold=True))
    for key, collections in groupby(view.collections, key=lambda c: (c.place, c.leaves)):
        with writer.block():
            writer.line(Text(text=f"{key[0]}: {key[1]}", first=1, last=last, bold=True, size=12, fill=LIGHT))
            for item in collections:
                head = f"{item.at} {item.phlebotomist}: {count_words(item.num_tubes, 'tube')}"
                text = f"{head}\n{item.contents}\n{item.beds}"
                if item.special:
                    text += f"\nKEEP {item.special}"
                writer.line(Text(text=BOX, first=1, last=1, size=14), Text(text=text, first=2, last=last), rule=True)
    return writer


def write_decisions(sheet: Worksheet, view: RoundView, paper: Paper) -> SheetWriter:
    """Write every order that is not drawn, those that need somebody first."""
    writer = SheetWriter(sheet, paper, (22.0, 30.0, 42.0, 48.0, 46.0))
    _decisions(writer, view.decisions)
    _heading(
        writer,
        f"Not planned, for information ({sum(len(d.orders.split(', ')) for d in view.for_information)} orders)",
        ("Bed", "Orders", "Tests", "Why", "Detail"),
    )
    for item in view.for_information:
        _row(writer, (item.bed, item.orders, item.tests, item.what, item.detail), bold_first=True)
    if not view.for_information:
        writer.line(Text(text="None.", first=1, last=5))
    return writer


def write_legend(sheet: Worksheet, view: RoundView, paper: Paper) -> SheetWriter:
    """Write the cautions, what signs and words mean, the tubes and the tests of this round."""
    writer = SheetWriter(sheet, paper, (34.0, 26.0, 60.0, 20.0, 48.0))
    with writer.block():
        writer.line(Text(text="Cautions", first=1, last=5, size=14, bold=True))
        for i, caution in enumerate(view.cautions, start=1):
            writer.line(Text(text=f"{i}. {caution}", first=1, last=5))
    _heading(writer, "Words and signs", ())
    for word, meaning in view.marks_key:
        writer.line(Text(text=word, first=1, last=1, bold=True), Text(text=meaning, first=2, last=5), rule=True)
    _heading(writer, "Tubes of this round, in order of draw", ("Tube", "Cap", "Additive", "Invert", "Used for"))
    for tube in view.tube_key:
        _row(writer, (tube.name, tube.closure, tube.additive, tube.inversions, tube.note), bold_first=True)
    _heading(writer, "Tests of this round", ())
    half = -(-len(view.test_key) // 2)
    for i in range(half):
        left = view.test_key[i]
        cells = [Text(text=f"{left.code}: {left.name}", first=1, last=3)]
        if i + half < len(view.test_key):
            right = view.test_key[i + half]
            cells.append(Text(text=f"{right.code}: {right.name}", first=4, last=5))
        writer.line(*cells, rule=True)
    return writer


def _decisions(writer: SheetWriter, decisions: Sequence[DecisionLine]) -> None:
    count = sum(len(d.orders.split(", ")) for d in decisions)
    if not decisions:
        _heading(writer, "Needs a decision: nothing", (), with_next=False)
        return
    _heading(
        writer,
        f"NEEDS A DECISION ({count_words(count, 'order')} not planned)",
        ("Bed", "Orders", "Tests", "What was found", "What to do"),
    )
    for item in decisions:
        bed = f"{BOX} {item.bed}"
        _row(writer, (bed, item.orders, item.tests, f"{item.what}: {item.detail}", item.action), bold_first=True)


def _heading(writer: SheetWriter, title: str, columns: Sequence[str], *, with_next: bool = True) -> None:
    writer.gap(10)
    with writer.block(with_next=with_next):
        writer.line(Text(text=title, first=1, last=5, size=13, bold=True))
        if columns:
            writer.line(
                *(Text(text=c, first=i, last=i, bold=True, fill=MEDIUM) for i, c in enumerate(columns, start=1))
            )


def _row(writer: SheetWriter, texts: Sequence[str], *, bold_first: bool = False) -> None:
    writer.line(
        *(Text(text=t, first=i, last=i, bold=bold_first and i == 1) for i, t in enumerate(texts, start=1)),
        rule=True,
    )
