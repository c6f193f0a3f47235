"""Text of one message to segments, and the fields, repetitions and components of a segment."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from functools import lru_cache

from planner.loaders.messages.hl7.charsets import CODECS, declared, decode
from planner.loaders.messages.hl7.escapes import Separators, separators_of, unescape
from planner.loaders.messages.hl7.framing import RawMessage

_NAME = re.compile(r"^[A-Za-z][A-Za-z0-9]{2}$")
_GLUED = {
    "ORC": re.compile(r"^[A-Z]{2}$"),
    "OBR": re.compile(r"^\d{0,4}$"),
    "PID": re.compile(r"^\d{0,4}$"),
    "PV1": re.compile(r"^\d{0,4}$"),
    "SPM": re.compile(r"^\d{0,4}$"),
}
"""Segments whose start is looked for inside fields, and what the field after the name must look like there."""
_FOREIGN = re.compile(r"^(?:PID|PV1|ORC|OBR|TQ1|NTE|OBX|SPM)[^A-Za-z0-9\s]")
"""A segment's name before any separator at all."""
BREAK = "(break)"
"""Stands for a line of fields that has lost its segment name: nobody can tell whether a header was lost with it."""
_NULL = '""'
_COMMON = frozenset({"PID", "PV1", "PV2", "ORC", "OBR", "TQ1", "NTE", "OBX", "SPM", "SAC", "DG1", "AL1", "IN1", "GT1"})
"""Segments that need no closer look where nothing hides in the message: most lines."""


@dataclass(slots=True)
class Segment:
    """One segment. Fields count from 1 as in the standard; an absent one is empty. ``line`` is that of the file."""

    name: str
    fields: list[str]
    line: int
    separators: Separators
    codec: str = "utf-8"
    follows_text: bool = False
    """True when the line before it is no segment: this one may be text too."""

    def raw(self, number: int) -> str:
        """Return a field as it stands, all repetitions included."""
        return self.fields[number] if number < len(self.fields) else ""

    def text(self, number: int, component: int = 1, sub: int = 1) -> str:
        """Return a component of the first repetition of a field, unescaped and without blanks around it."""
        fields = self.fields
        if number >= len(fields) or not (value := fields[number]):
            return ""
        if value.isalnum():  # no separator is a letter or a digit
            return value if component == sub == 1 else ""
        repeats = self.separators.repetition
        return self.part(value.split(repeats, 1)[0] if repeats in value else value, component, sub)

    def pair(self, number: int) -> tuple[str, str]:
        """Return the first two components of a field, as `text` gives them one by one."""
        fields = self.fields
        if number >= len(fields) or not (value := fields[number]):
            return "", ""
        if value.isalnum():
            return value, ""
        marks = self.separators
        if marks.repetition in value:
            value = value.split(marks.repetition, 1)[0]
        return self.part(value), self.part(value, 2) if marks.component in value else ""

    def components(self, number: int) -> list[str]:
        """Return all components of the first repetition of a field, as `text` gives them one by one."""
        marks, value = self.separators, self.raw(number)
        if marks.repetition in value:
            value = value.split(marks.repetition, 1)[0]
        return [self.part(piece) for piece in value.split(marks.component)]

    def repetitions(self, number: int) -> list[str]:
        """Return the repetitions of a field that are not empty, to be taken apart with `part`."""
        value = self.raw(number)
        return [part for part in value.split(self.separators.repetition) if part.strip()] if value else []

    def part(self, repetition: str, component: int = 1, sub: int = 1) -> str:
        """Return a component of a repetition, unescaped; the null of two double quotes counts as empty."""
        _, in_parts, _, escape, in_subs, _ = self.separators
        value = repetition
        if in_parts in value:
            pieces = value.split(in_parts, component)
            value = pieces[component - 1] if component <= len(pieces) else ""
        elif component > 1:
            return ""
        if in_subs and in_subs in value:
            pieces = value.split(in_subs)
            value = pieces[sub - 1] if sub <= len(pieces) else ""
        elif sub > 1:
            return ""
        if escape and escape in value:
            value = unescape(value, self.separators, self.codec)
        value = value.strip()
        return "" if value == _NULL else value

    def _plain(self, value: str) -> str:
        """Return a piece unescaped and without blanks around it, empty where it is the null."""
        escape = self.separators.escape
        if escape and escape in value:
            value = unescape(value, self.separators, self.codec)
        value = value.strip()
        return "" if value == _NULL else value

    def words(self, number: int) -> str:
        """Return a whole field as words for a person: components and repetitions joined.

        A separator of sub-components stays: in a text it is an "and" that nobody escaped.
        """
        fields = self.fields
        if number >= len(fields) or not (value := fields[number]):
            return ""
        if value.isalnum():
            return value
        marks = self.separators
        found = []
        for repetition in value.split(marks.repetition):
            parts = [self._plain(piece) for piece in repetition.split(marks.component)]
            found.append(" ".join(part for part in parts if part))
        return "; ".join(part for part in found if part).replace("\n", " / ")

    def has(self, number: int) -> bool:
        """Return whether a field holds anything."""
        fields = self.fields
        if number >= len(fields) or not (value := fields[number].strip()):
            return False
        return value != _NULL and not set(value) <= {self.separators.component, self.separators.sub}


@dataclass(slots=True)
class Message:
    """One message taken apart. ``damage`` says what had to be guessed; ``is_usable`` is False without a header."""

    segments: list[Segment]
    damage: list[str] = field(default_factory=list)
    guess: str = ""
    is_usable: bool = True
    stray_lines: list[int] = field(default_factory=list)
    lost_lines: list[int] = field(default_factory=list)
    """Those of them that look like segments with other separators than the header's."""
    suspects: list[int] = field(default_factory=list)
    """Lines that look like segments and may be text: they follow a line feed inside a field."""
    text: str = ""
    """All of it, its lines ended by CR."""
    is_torn: bool = False
    """True when the end of a segment or of the message is lost, and perhaps what stood after it."""

    @property
    def header(self) -> Segment:
        """The MSH segment, or the first there is."""
        return self.segments[0]

    def at(self, line: int) -> Segment:
        """Return the first segment of a line of the file."""
        return next(segment for segment in self.segments if segment.line == line)


def parse_message(raw: RawMessage) -> Message:
    """Return the segments of a message; a lost segment end is put back, a line that is no segment continues one."""
    body = b"\r".join(line for _, line in raw.lines)
    charset = declared(raw.lines[0][1]) if raw.has_header else ""
    decoded = decode(body, charset)
    lines = decoded.text.split("\r")
    numbers = [number for number, _ in raw.lines]
    marks = separators_of(lines[0]) if raw.has_header else None
    message = Message([], [raw.damage] if raw.damage else [], decoded.guess, text=decoded.text, suspects=raw.suspects)
    if raw.is_cut:
        message.damage.append("its end is missing")
        message.is_torn = True
    if marks is None:
        message.is_usable = False
        if raw.has_header:
            message.damage.append("its header does not declare usable separators")
        marks = Separators()
    codec = CODECS.get(charset) or "utf-8"
    may_hide = _may_hide(decoded.text, lines, marks.field)
    is_after_text = False
    for number, line in zip(numbers, lines, strict=False):
        before, strays = len(message.segments), len(message.stray_lines)
        if line[:3] in _COMMON and line[3:4] == marks.field and not may_hide and message.segments:
            fields = line.rstrip().split(marks.field)
            message.segments.append(Segment(fields[0], fields, number, marks, codec))
        else:
            _add_line(message, line, number, marks, codec, may_hide)
        if is_after_text and len(message.segments) > before:
            message.segments[before].follows_text = True
        is_after_text = len(message.stray_lines) > strays and len(message.segments) == before
    return message


def _may_hide(text: str, lines: list[str], mark: str) -> bool:
    """Return whether the name of an order's segment stands before a separator anywhere but at the start of a line."""
    starts = _starts(mark)
    found = 0
    for start in starts:
        found += text.count(start)
    for line in lines:
        if line[:4] in starts:
            found -= 1
    return found != 0


@lru_cache(maxsize=16)
def _starts(mark: str) -> tuple[str, ...]:
    return tuple(name + mark for name in _GLUED)


def _add_line(message: Message, line: str, number: int, marks: Separators, codec: str, may_hide: bool) -> None:
    name = line[:3]
    ends_there = line[3:4] == "" and name.isupper()  # a bare word of three letters is text
    is_segment = (line[3:4] == marks.field or ends_there) and _NAME.match(name) is not None
    if is_segment or not (message.segments or line.count(marks.field) > 1):
        fields = line.rstrip().split(marks.field)
        if name == "MSH":
            fields.insert(1, marks.field)
        if is_segment and name != name.upper():
            message.damage.append(f"segment {name!r} is not in capitals")
        fields[0] = name.upper()
        if may_hide and _hides_segment(marks.field).search(line, 4):
            for part in _unglued(fields, message):
                message.segments.append(Segment(part[0], part, number, marks, codec))
        else:
            message.segments.append(Segment(fields[0], fields, number, marks, codec))
        return
    message.stray_lines.append(number)
    if _FOREIGN.match(line):
        message.lost_lines.append(number)
    if line.count(marks.field) > 1:
        message.segments.append(Segment(BREAK, [BREAK], number, marks, codec))
    elif message.segments[-1].name in ("NTE", "OBX"):
        message.segments[-1].fields[-1] += "\n" + line.replace(marks.field, " ")


@lru_cache(maxsize=16)
def _hides_segment(mark: str) -> re.Pattern[str]:
    """Return what finds the name of an order's segment before a field separator, within a line."""
    return re.compile(f"(?<=[^\\r])(?:{'|'.join(_GLUED)}){re.escape(mark)}")


def _unglued(fields: list[str], message: Message) -> list[list[str]]:
    """Return the segments that a line holds: more than one where a segment end is lost before an order's segment."""
    if fields[0] in ("MSH", "ERR", "MSA") or fields[0][:1] == "Z":
        return [fields]
    cuts = []
    for index in range(1, len(fields) - 1):
        shape = _GLUED.get(fields[index][-3:])
        if shape and shape.match(fields[index + 1].strip()) and _is_break(fields, index):
            cuts.append(index)
    if not cuts:
        return [fields]
    found, start = [], 0
    current = list(fields)
    for cut in cuts:
        name = current[cut - start][-3:]
        message.damage.append(f"the segment end before {name} is lost")
        message.is_torn = True
        head = current[: cut - start + 1]
        head[-1] = head[-1][:-3]
        found.append(head)
        current = [name, *current[cut - start + 1 :]]
        start = cut
    found.append(current)
    return found


def _is_break(fields: list[str], index: int) -> bool:
    """Return whether a field that ends with a segment's name is a lost break rather than a word of text."""
    name, before = fields[index][-3:], fields[index][:-3]
    follows = [f for f in fields[index + 1 :] if f]
    needed = {"ORC": 2, "OBR": 2, "PID": 2, "PV1": 1, "SPM": 1}[name]
    return len(follows) >= needed and not (before and before[-1].isspace())
