"""The HTML sheet: whole, escaped, closed to the network, readable by the WCAG 2.2 formula, the same each time."""

from __future__ import annotations

import base64
import hashlib
import re
from collections.abc import Iterable
from dataclasses import replace
from html.parser import HTMLParser
from itertools import pairwise

import pytest

from planner.exporters.page.page import round_sheet_html
from planner.exporters.page.parts import css_string, style
from planner.exporters.view.build import build_view
from planner.exporters.view.cards.windows import Mark, MarkKind
from planner.exporters.view.round_view import RoundView
from planner.exporters.view.stop_view import VisitView
from tests.unit.exporters.rounds import LONG_NAME, make_round

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def view() -> RoundView:
    problem, plan, windows = make_round()
    return build_view(problem, plan, windows, revision=3)


@pytest.fixture(scope="module")
def page(view: RoundView) -> str:
    return round_sheet_html(view).decode("utf-8")


class Reader(HTMLParser):
    """Collects texts, tags with their attributes, and whether every element is closed in its order."""

    VOID = frozenset({"meta", "input", "img", "br", "col"})

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.texts: list[str] = []
        self.open: list[str] = []
        self.feed(page)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self.open and self.open[-1] not in ("style", "script"):
            self.texts.append(data)


def test_page_is_well_formed_with_language_and_unique_identifiers(page: str) -> None:
    reader = Reader(page)
    assert reader.open == []
    assert ("html", {"lang": "en"}) in reader.tags
    ids = [attributes["id"] for _, attributes in reader.tags if "id" in attributes]
    assert len(ids) == len(set(ids))
    targets = {attributes["href"] for tag, attributes in reader.tags if tag == "a"}
    assert {f"#{name}" for name in ids} >= targets


def test_headings_never_skip_a_level(page: str) -> None:
    levels = [int(tag[1]) for tag, _ in Reader(page).tags if re.fullmatch(r"h[1-6]", tag)]
    assert levels[0] == 1
    assert all(after <= before + 1 for before, after in pairwise(levels))


def test_tubes_stand_in_the_order_of_draw(page: str, view: RoundView) -> None:
    text = " ".join(" ".join(Reader(page).texts).split())
    place = 0
    for route in view.routes:
        for visit in route.visits:
            place = text.index(visit.patient_number, place)
            for tube in visit.tubes:
                place = text.index(tube.label, place)
                assert tube.tests in text[place:]


def test_no_text_is_markup(view: RoundView) -> None:
    evil = "<script>alert(1)</script>\"'&</style>"
    visit = view.routes[0].visits[0]
    odd = replace(visit, name=evil, bed=evil, ask=(evil,), patient_number=evil, order_numbers=(evil,))
    route = replace(view.routes[0], name=evil, stops=(odd, *view.routes[0].stops[1:]))
    page = round_sheet_html(replace(view, title=evil, wards=evil, routes=(route, *view.routes[1:]))).decode("utf-8")
    reader = Reader(page)
    assert [tag for tag, _ in reader.tags].count("script") == 1
    assert [tag for tag, _ in reader.tags].count("style") == 1
    assert reader.open == []
    assert evil in "".join(reader.texts)
    assert "data-bed" in page


def test_strings_of_the_style_sheet_cannot_end_early() -> None:
    assert css_string('a"}</style>é') == '"a\\22 \\7d \\3c \\2f style\\3e \\e9 "'


def test_policy_forbids_all_but_the_own_style_and_script(page: str) -> None:
    policy = next(a["content"] for t, a in Reader(page).tags if a.get("http-equiv") == "Content-Security-Policy")
    assert policy is not None
    rules = dict(rule.strip().split(" ", 1) for rule in policy.split(";"))
    assert rules["default-src"] == rules["connect-src"] == rules["form-action"] == rules["base-uri"] == "'none'"
    for tag in ("style", "script"):
        inside = re.search(rf"<{tag}>(.*?)</{tag}>", page, re.DOTALL)
        assert inside is not None
        digest = base64.b64encode(hashlib.sha256(inside[1].encode("utf-8")).digest()).decode("ascii")
        assert rules[f"{tag}-src"] == f"'sha256-{digest}'"


def test_page_names_no_address(page: str) -> None:
    own = re.sub(r"data:image/svg\+xml;base64,[A-Za-z0-9+/=]+", "", page)
    assert "//" not in re.sub(r"^\s*//.*$", "", own, flags=re.MULTILINE)
    assert not [a for _, a in Reader(page).tags if "style" in a or any(name.startswith("on") for name in a)]


def luminance(colour: str) -> float:
    """WCAG 2.2, definition of relative luminance."""
    digits = colour.lstrip("#")
    digits = digits if len(digits) == 6 else "".join(2 * d for d in digits)
    parts = [int(digits[i : i + 2], 16) / 255 for i in (0, 2, 4)]
    red, green, blue = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """WCAG 2.2, definition of contrast ratio."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def names_of(block: str) -> dict[str, str]:
    """Return the named colours of a rule of the style sheet."""
    return dict(re.findall(r"--(\w+): (#[0-9a-f]+)", block))


def schemes() -> dict[str, dict[str, str]]:
    """Return the named colours by light and by dark; paper is light."""
    light, dark = (rule for rule in re.findall(r":root \{([^}]*)\}", style()) if "--ink" in rule)
    return {"light": names_of(light), "dark": names_of(dark)}


def declared(rules: str) -> dict[str, set[str]]:
    """Return which colours the style sheet gives to texts, grounds and lines, as they are written there."""
    return {
        "color": set(re.findall(r"[{;]\s*color: ([^;}]+)", rules)),
        "ground": set(re.findall(r"[{;]\s*background: ([^;}]+)", rules)),
        "line": set(re.findall(r"[{;]\s*(?:border|outline)[\w-]*: [^;}]*?(var\(--\w+\)|#\w+)", rules)),
    }


PAIRS = (
    ("ink", "paper"),  # all text
    ("ink", "band"),  # hand-overs, breaks, the tray, buttons, the outcome that was chosen, who the patient is
    ("soft", "paper"),  # what is quiet, what is done, the additive
    ("link", "paper"),  # links
    ("link", "band"),  # the link at the end of a hand-over
    ("onmark", "mark"),  # number of a stop, its marks, a pressing time
)
"""Every text of the page with every ground on which it may stand."""


def test_contrast_follows_wcag() -> None:
    # 21 is black on white by definition; texts 7 (AAA, 1.4.6), lines and frames of controls 3 (1.4.11).
    assert contrast("#000", "#fff") == pytest.approx(21)
    for scheme, colours in schemes().items():
        for ink, ground in PAIRS:
            assert contrast(colours[ink], colours[ground]) >= 7, (scheme, ink, ground)
        for line in ("line", "mark", "link", "ink"):
            for ground in ("paper", "band"):
                assert contrast(colours[line], colours[ground]) >= 3, (scheme, line, ground)


def test_every_colour_that_the_style_sheet_uses_is_among_the_pairs() -> None:
    plain = re.sub(r":root \{[^}]*\}", "", style())
    assert set(re.findall(r"#[0-9a-f]{3,6}\b", plain)) <= {"#000", "#fff"}  # on paper; all others have names
    used = declared(plain)

    def named(written: Iterable[str]) -> set[str]:
        return {m[1] for w in written if (m := re.fullmatch(r"var\(--(\w+)\)", w))}

    assert named(used["color"]) == {ink for ink, _ in PAIRS}
    assert named(used["ground"]) == {ground for _, ground in PAIRS}
    assert named(used["line"]) == {"line", "mark", "link", "ink"}
    for kind in used.values():
        assert kind - {f"var(--{name})" for name in named(kind)} <= {"#000", "#fff"}
    for rule in re.findall(r"\{([^{}]*)\}", plain):  # white letters stand on black wherever they are
        assert ("color: #fff" in re.sub("background-color", "", rule)) == ("background: #000" in rule)


def test_nothing_moves() -> None:
    assert not re.search(r"animation|transition|scroll-behavior|@keyframes", style())


def test_a_pressing_time_stands_white_on_black(view: RoundView, page: str) -> None:
    pressing = [visit for route in view.routes for visit in route.visits if visit.is_pressing]
    assert pressing
    assert page.count('<div class="pressing"><dt>WHEN</dt>') == len(pressing)
    late = replace(view.routes[0].visits[0], marks=(Mark(MarkKind.LATE, "LATE 3 MIN"),), window="")
    assert (late.is_pressing, late.when) == (True, f"draw at {late.draw_at}")
    assert not replace(late, marks=(Mark(MarkKind.PRIORITY, "STAT"), Mark(MarkKind.TIMED, "TIMED"))).is_pressing


def test_each_route_says_what_to_do_otherwise_and_whom_to_phone(view: RoundView, page: str) -> None:
    assert page.count("<b>OTHERWISE</b>") == len(view.routes)
    for words in (
        "<b>TIME MISSED</b>",
        "<b>PHONE</b> <b>lead _______</b>: new order",
        "<b>ward nurse _______</b>: refused",
    ):
        assert page.count(words) == len(view.routes)


def test_odd_rounds_are_whole(view: RoundView, page: str) -> None:
    assert LONG_NAME in page
    for name in ("محمد", "王, 秀英", "देशपांडे", "Дмитриева"):
        assert name in page
    problem, plan, windows = make_round(1, 2)
    assert "No visits on this round" in round_sheet_html(build_view(problem, plan, windows, revision=1)).decode("utf-8")
    problem, plan, windows = make_round(60, 3)
    sixty = round_sheet_html(build_view(problem, plan, windows, revision=1)).decode("utf-8")
    assert sixty.count('class="stop visit"') == 60


def test_every_order_of_a_visit_is_named_for_the_progress_file(page: str, view: RoundView) -> None:
    named = [a["data-orders"] for tag, a in Reader(page).tags if tag == "article" and "data-orders" in a]
    assert named == ["\n".join(visit.order_numbers) for route in view.routes for visit in route.visits]


def test_revision_decides_where_ticks_are_kept(view: RoundView) -> None:
    keys = set()
    for revision in (1, 2):
        page = round_sheet_html(replace(view, revision=f"revision {revision}", number=revision)).decode("utf-8")
        keys.update(re.findall(r'data-key="([^"]*)"', page))
    assert len(keys) == 2


def test_same_view_same_bytes_and_unknown_paper_refused(view: RoundView) -> None:
    assert round_sheet_html(view) == round_sheet_html(view)
    assert b"size: letter portrait" in round_sheet_html(view, "letter")
    assert b"size: A4 landscape" in round_sheet_html(view, large_print=True)
    with pytest.raises(ValueError, match="a4, letter"):
        round_sheet_html(view, "foolscap")


def test_view_of_one_person_has_her_things_only(view: RoundView) -> None:
    own = view.only_for("tb")
    assert [route.initials for route in own.routes] == ["TB"]
    assert {line.phlebotomist for line in own.collections} == {own.routes[0].name}
    assert len(own.map.lines) == len(own.timeline.rows) == 1
    assert all(line.total == sum(line.needed) + sum(line.spares) and sum(line.needed) for line in own.supplies)


def test_every_visit_shows_the_numbers_of_its_orders(page: str, view: RoundView) -> None:
    """By them a visit is reported over the phone where its patient has several."""
    articles = re.findall(r'<article class="stop visit".*?</article>', page, re.DOTALL)
    visits = [stop for route in view.routes for stop in route.stops if isinstance(stop, VisitView)]
    assert len(articles) == len(visits)
    for article, visit in zip(articles, visits, strict=True):
        shown = re.sub(r"<[^>]*>", " ", article)
        assert all(number in shown for number in visit.order_numbers)
