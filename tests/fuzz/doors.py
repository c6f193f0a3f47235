"""Every door through which something comes in, as a function of one random case that it must hold.

A door holds when it ends soon, raises nothing but what it says it raises, and loses nothing: every order whose number
survives the damage is planned, set aside or covered by a finding that needs a decision; what was read equals what is
planned and set aside.
"""

from __future__ import annotations

import copy
import io
import json
import tempfile
from collections.abc import Callable, Iterable, Mapping
from datetime import date
from functools import cache
from pathlib import Path
from random import Random

from openpyxl import Workbook

from planner.checker import check_plan
from planner.domain.plan import Plan
from planner.domain.problem import Problem
from planner.errors import PlanFileError
from planner.exporters.plan_json import plan_from_json, plan_to_json
from planner.findings import Finding, Severity, unread
from planner.loaders import Loaded, LoadOptions, load
from planner.loaders.during.new_orders import read_new_orders
from planner.loaders.during.progress import read_progress
from planner.loaders.during.shorthand import PARSERS, ShorthandError
from planner.loaders.during.typed import parse_done
from planner.pipeline import plan_round
from planner.solving.params import SolveParams
from tests.builders import make_order, make_problem
from tests.fuzz.mutations import ODD_CELLS, changed_document, damaged_list, damaged_workbook
from tests.property.message_cases import damage
from tests.unit.loaders.messages.fhir.ward import on_ward, request
from tests.unit.loaders.messages.hl7.ward import message, order

DAY = date(2026, 3, 10)
OPTIONS = LoadOptions(round_date=DAY, ignores_policy=True)
ORDERS = 8


class LostError(AssertionError):
    """Something that came in is neither planned nor set aside nor said."""


def number(i: int) -> str:
    """Return an order number that no damage to another makes."""
    return f"Z{'QXJKVBWY'[i % 8] * 3}{i:02d}"


NUMBERS = tuple(number(i) for i in range(ORDERS))
HEAD = "order_number,patient_number,family_name,given_name,birth_date,ward,bed,test,priority,collect_at,note"
ROWS = tuple(
    f"{NUMBERS[i]},{i // 2:07d},Family{i // 2},Given,19{40 + i // 2}-05-31,{'Elm' if i < 4 else 'Fir'},"
    f"{i // 2 % 2 + 1}A,"
    f"{('CBC', 'BMP', 'TSH', 'LACT')[i % 4]},{('routine', 'stat', 'timed', '')[i % 4]},{'06:30' if i % 4 == 2 else ''},"
    for i in range(ORDERS)
)
LIST = "\n".join([HEAD, *ROWS]) + "\n"
TABLES: Mapping[str, str] = {
    "orders.csv": LIST,
    "staff.csv": "name,initials,from,until\nKim Fell,KF,05:00,09:00\nJo Moor,JM,05:30,08:30\n",
    "pickups.csv": "place,kind,departs,transit_minutes\nShelf,courier,06:15;07:15,10\n",
    "policy.toml": 'time_zone = "Europe/Dublin"\n[round]\nbreakfast_at = "07:45"\n[windows]\nstat_target_minutes = 9\n',
}


def intact(data: bytes) -> set[str]:
    """Return the order numbers that still stand whole in the bytes of a file, in whatever encoding."""
    return {n for n in NUMBERS for codec in ("utf-8", "utf-16-le", "utf-16-be") if n.encode(codec) in data}


def _has_long_row(findings: Iterable[Finding]) -> bool:
    """Return whether a row has swallowed the next, whose number then stands in no column: a decision about both."""
    return any(finding.code == "row-too-long" for finding in findings)


def hold_load(path: Path, wanted: set[str]) -> None:
    """Load a round: nothing is lost, and everything that is said can be printed."""
    loaded: Loaded = load(path, OPTIONS)
    for finding in loaded.findings:
        str(finding).encode("utf-8")
    problem = loaded.problem
    if problem is None:
        if not any(f.severity is Severity.ERROR for f in loaded.findings):
            raise LostError("no plan, and nothing is said to be wrong")
        return
    ids = [*(o.id for o in problem.orders), *(u.order_id for u in problem.set_aside)]
    if len(ids) != loaded.num_orders_read or len(set(ids)) != len(ids):
        raise LostError(f"{loaded.num_orders_read} orders were read, {len(set(ids))} are planned or set aside")
    if unread(loaded.findings) or _has_long_row(loaded.findings):
        return
    text = " ".join(ids)
    told = " ".join(f"{f.message} {' '.join(f.order_ids)}" for f in loaded.findings)
    lost = {n for n in wanted if n not in text and n not in told}
    if lost and len(ids) < len(wanted):  # more orders than numbers: they go by their rows
        raise LostError(f"orders {', '.join(sorted(lost))} are lost without a word")


def _file(rng: Random, name: str, data: bytes) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / name
        path.write_bytes(data)
        hold_load(path if rng.random() < 0.5 else Path(folder), intact(data))


def one_list(rng: Random) -> None:
    """One order list alone."""
    _file(rng, rng.choice(("list.csv", "orders.csv", "list.txt")), damaged_list(LIST.encode(), rng))


def folder(rng: Random) -> None:
    """A folder of tables of which one is damaged, or left, or doubled under another name."""
    tables = {name: text.encode() for name, text in TABLES.items()}
    victim = rng.choice(list(tables))
    way = rng.random()
    if way < 0.1:
        tables[f"{Path(victim).stem}-late{Path(victim).suffix}"] = tables[victim]
    elif victim.endswith(".toml"):
        tables[victim] = damage(tables[victim], rng)
    else:
        tables[victim] = damaged_list(tables[victim], rng)
    with tempfile.TemporaryDirectory() as path:
        for name, data in tables.items():
            (Path(path) / name).write_bytes(data)
        hold_load(Path(path), intact(tables.get("orders.csv", b"")))


@cache
def _workbook() -> bytes:
    book, data = Workbook(), io.BytesIO()
    book.remove(book.worksheets[0])
    for name, text in TABLES.items():
        if name.endswith(".csv"):
            sheet = book.create_sheet(Path(name).stem)
            for line in text.splitlines():
                sheet.append(line.split(","))
    book.save(data)
    return data.getvalue()


def workbook(rng: Random) -> None:
    """A workbook with damaged bytes or a damaged part; how many orders survive cannot be seen from outside."""
    with tempfile.TemporaryDirectory() as path:
        (Path(path) / "round.xlsx").write_bytes(damaged_workbook(_workbook(), rng))
        hold_load(Path(path) / "round.xlsx", set())


def hl7(rng: Random) -> None:
    """A file of messages."""
    end = rng.choice(("\r", "\r", "\n", "\r\n"))
    texts = [
        message(
            order(NUMBERS[i], more=[f"NTE|1||{rng.choice(('left arm', 'seen', *ODD_CELLS))}"]),
            order(NUMBERS[i + 1]),
            control=f"M{i}",
            kind=rng.choice(("OML^O21", "ORM^O01", "ADT^A01")),
            patient=f"PID|1||{i:07d}^^^HILL^MR||Moss{i}^Ada||19520309|F",
        )
        for i in range(0, ORDERS, 2)
    ]
    data = "".join(texts).replace("\r", end).encode("utf-8", "replace")
    _file(rng, "m.hl7", damage(data, rng) if rng.random() < 0.9 else data)


def fhir(rng: Random) -> None:
    """A Bundle, damaged as text or with elements of wrong types and places."""
    # a copy: what is changed below is the ward of every case
    document = copy.deepcopy(on_ward(*(request(n, note=[{"text": rng.choice(ODD_CELLS)}]) for n in NUMBERS)))
    if rng.random() < 0.6:
        data = json.dumps(changed_document(document, rng)).encode()
    else:
        data = damage(json.dumps(document).encode(), rng)
    _file(rng, "b.json", data)


@cache
def _planned() -> tuple[Problem, Plan, bytes]:
    problem = make_problem(orders=[make_order("A1", "P1", "CBC"), make_order("A2", "P2", "BMP")])
    plan = plan_round(problem, SolveParams(effort="quick", proves=False)).plan
    data = plan_to_json(problem, plan, revision=1, parent=None, inputs_digest="x", params={}, findings=())
    return problem, plan, data


def plan_file(rng: Random) -> None:
    """A plan.json: refused in words, or checked without a traceback; an edit is never taken for ours."""
    data = _planned()[2]
    changed = damage(data, rng) if rng.random() < 0.3 else json.dumps(changed_document(json.loads(data), rng)).encode()
    try:
        file = plan_from_json(changed)
    except PlanFileError:
        return
    check_plan(file.problem, file.plan)
    if not file.is_edited and json.loads(changed.decode("utf-8-sig")) != json.loads(data):
        raise LostError("an edited plan passes for ours")


def progress(rng: Random) -> None:
    """A progress file: every row is a report, or there is a finding."""
    problem, plan, _ = _planned()
    visits = [visit for route in plan.routes for visit in route.visits]
    rows = [f"{v.place},{v.patient_id},{';'.join(v.order_ids)},collected,05:{10 + i},," for i, v in enumerate(visits)]
    text = "\n".join(["bed,patient_number,order_number,outcome,time,initials,note", *rows]) + "\n"
    with tempfile.TemporaryDirectory() as path:
        file = Path(path) / "progress.csv"
        file.write_bytes(damaged_list(text.encode(), rng))
        reports, findings = read_progress(file, problem, plan, problem.start_s + 3600)
    if not reports and not findings:
        raise LostError("a progress file says nothing, and nothing is said of it")
    done = ",".join(rng.choice((*ODD_CELLS, "1", "2")) for _ in range(rng.randint(1, 4)))
    parse_done(done, problem, plan, problem.start_s + 3600)


def new_orders(rng: Random) -> None:
    """A list that comes in mid-round: every order is planned, set aside, cancelled or said."""
    problem, _, _ = _planned()
    data = damaged_list(LIST.encode(), rng)
    with tempfile.TemporaryDirectory() as path:
        file = Path(path) / "late.csv"
        file.write_bytes(data)
        new, findings = read_new_orders(file, problem)
    ids = " ".join([*(o.id for o in new.orders), *(u.order_id for u in new.set_aside), *new.cancelled])
    told = " ".join(f"{f.message} {' '.join(f.order_ids)}" for f in findings)
    if any(f.severity is Severity.ERROR and not f.order_ids for f in findings) or _has_long_row(findings):
        return
    lost = {n for n in intact(data) if n not in ids and n not in told}
    if lost and len(new.orders) + len(new.set_aside) + len(new.cancelled) < len(intact(data)):
        raise LostError(f"orders {', '.join(sorted(lost))} are lost without a word")


def options(rng: Random) -> None:
    """The shorthand of replan's options: understood, or refused in words."""
    parts = ("14", "Elm 3A", "=", ":", "CBC", ",", "05:40", "7.30", "-", "+15", "none", "AB", *ODD_CELLS)
    text = "".join(rng.choice(parts) for _ in range(rng.randint(0, 6)))
    for parse in PARSERS.values():
        try:
            parse(text)
        except ShorthandError as error:
            str(error).encode("utf-8", "replace")


DOORS: Mapping[str, Callable[[Random], None]] = {
    "one list": one_list,
    "folder of tables": folder,
    "workbook": workbook,
    "HL7 v2": hl7,
    "FHIR": fhir,
    "plan.json": plan_file,
    "progress file, --done": progress,
    "--orders": new_orders,
    "replan options": options,
}
