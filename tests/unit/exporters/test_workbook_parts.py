"""The parts of the workbook have their elements in the order of the published schema, and refer to what is there.

The sequences are those of ECMA-376, 5th edition, Part 1 (the same as ISO/IEC 29500-1): sml.xsd for worksheets
(CT_Worksheet, 18.3.1.99), cells, workbook (CT_Workbook, 18.2.27), styles (CT_Stylesheet, 18.8.39) and shared texts;
dml-spreadsheetDrawing.xsd for pictures; the legacy drawing of notes is that of Part 4. A spreadsheet program repairs
or refuses a file that has another order.
"""

from __future__ import annotations

import io
import posixpath
import re
import zipfile
from collections.abc import Iterator
from xml.etree import ElementTree

import pytest

from planner.exporters.view.build import build_view
from planner.exporters.workbook.book import round_sheet_workbook
from planner.exporters.workbook.starter import starter_workbook
from tests.unit.exporters.replanned import make_replanned
from tests.unit.exporters.rounds import make_round

pytestmark = pytest.mark.slow

SEQUENCES = {
    "worksheet": (
        "sheetPr dimension sheetViews sheetFormatPr cols sheetData sheetCalcPr sheetProtection protectedRanges "
        "scenarios autoFilter sortState dataConsolidate customSheetViews mergeCells phoneticPr conditionalFormatting "
        "dataValidations hyperlinks printOptions pageMargins pageSetup headerFooter rowBreaks colBreaks "
        "customProperties cellWatches ignoredErrors smartTags drawing legacyDrawing legacyDrawingHF drawingHF picture "
        "oleObjects controls webPublishItems tableParts extLst"
    ),
    "sheetPr": "tabColor outlinePr pageSetUpPr",
    "sheetView": "pane selection pivotSelection extLst",
    "c": "f v is extLst",
    "headerFooter": "oddHeader oddFooter evenHeader evenFooter firstHeader firstFooter",
    "workbook": (
        "fileVersion fileSharing workbookPr workbookProtection bookViews sheets functionGroups externalReferences "
        "definedNames calcPr oleSize customWorkbookViews pivotCaches smartTagPr smartTagTypes webPublishing "
        "fileRecoveryPr webPublishObjects extLst"
    ),
    "styleSheet": "numFmts fonts fills borders cellStyleXfs cellXfs cellStyles dxfs tableStyles colors extLst",
    "xf": "alignment protection extLst",
    "border": "start end left right top bottom diagonal vertical horizontal",
    "si": "t r rPh phoneticPr",
    "r": "rPr t",
    "oneCellAnchor": "from ext sp grpSp graphicFrame cxnSp pic contentPart clientData",
    "pic": "nvPicPr blipFill spPr style",
    "dataValidation": "formula1 formula2",
}
REPEATED = {"r", "conditionalFormatting", "selection"}
"""Elements of these sequences that may stand several times in a row."""


def parts_of(data: bytes) -> dict[str, bytes]:
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def local(tag: str) -> str:
    return tag.rpartition("}")[2]


def disorder(part: bytes) -> Iterator[str]:
    """Yield each element whose children stand in another order than the schema's, or twice."""
    for element in ElementTree.fromstring(part).iter():
        sequence = SEQUENCES.get(local(element.tag), "").split()
        if not sequence:
            continue
        found = [local(child.tag) for child in element]
        if unknown := sorted(set(found) - set(sequence)):
            yield f"{local(element.tag)} has {unknown}"
            continue
        positions = [sequence.index(name) for name in found]
        if positions != sorted(positions):
            yield f"{local(element.tag)}: {found}"
        if twice := {name for name in found if found.count(name) > 1} - REPEATED:
            yield f"{local(element.tag)} has twice {sorted(twice)}"


def round_book() -> bytes:
    problem, plan, windows = make_round(16, 2)
    return round_sheet_workbook(build_view(problem, plan, windows, revision=1))


def replanned_book() -> bytes:
    problem, plan, windows = make_replanned()
    return round_sheet_workbook(build_view(problem, plan, windows, revision=2), "letter", large_print=True)


@pytest.fixture(scope="module", params=[round_book, replanned_book, starter_workbook])
def parts(request: pytest.FixtureRequest) -> dict[str, bytes]:
    return parts_of(request.param())


def test_elements_stand_in_the_order_of_the_schema(parts: dict[str, bytes]) -> None:
    looked_at = 0
    for name, part in parts.items():
        if name.endswith((".xml", ".rels")):
            assert list(disorder(part)) == [], name
            looked_at += 1
    assert looked_at > 8
    assert sum(name.startswith("xl/worksheets/sheet") for name in parts) >= 3


def test_the_check_sees_a_wrong_order() -> None:
    sheet = b"<worksheet><pageMargins/><mergeCells/></worksheet>"
    assert list(disorder(sheet)) == ["worksheet: ['pageMargins', 'mergeCells']"]
    assert list(disorder(b"<c><v/><v/></c>")) == ["c has twice ['v']"]
    assert list(disorder(b"<xf><font/></xf>")) == ["xf has ['font']"]


def test_rows_and_cells_ascend(parts: dict[str, bytes]) -> None:
    for name in (n for n in parts if n.startswith("xl/worksheets/sheet")):
        rows = [e for e in ElementTree.fromstring(parts[name]).iter() if local(e.tag) == "row"]
        numbers = [int(row.attrib["r"]) for row in rows]
        assert numbers == sorted(set(numbers)), name
        for row in rows:
            places = [re.fullmatch(r"([A-Z]+)(\d+)", cell.attrib["r"]) for cell in row]
            assert all(place is not None and place[2] == row.attrib["r"] for place in places)
            columns = [(len(place[1]), place[1]) for place in places if place is not None]
            assert columns == sorted(set(columns)), name


def test_parts_that_are_referred_to_are_there_and_have_a_type(parts: dict[str, bytes]) -> None:
    types = ElementTree.fromstring(parts["[Content_Types].xml"])
    named = {e.attrib["PartName"].lstrip("/") for e in types if local(e.tag) == "Override"}
    endings = {e.attrib["Extension"] for e in types if local(e.tag) == "Default"}
    assert named <= parts.keys()
    assert all(n in named or n.rpartition(".")[2] in endings for n in parts if n != "[Content_Types].xml")
    for name in (n for n in parts if n.endswith(".rels")):
        folder = posixpath.dirname(posixpath.dirname(name))
        for relation in ElementTree.fromstring(parts[name]):
            target = relation.attrib["Target"]
            path = target.lstrip("/") if target.startswith("/") else posixpath.normpath(posixpath.join(folder, target))
            assert path in parts, name
