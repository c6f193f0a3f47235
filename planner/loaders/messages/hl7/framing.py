"""Bytes of a file to single messages: line ends, MLLP frames, batches, and breaks that got lost on the way."""

from __future__ import annotations

import itertools
import re
from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass, field

from planner.findings import Report, Severity, Source
from planner.loaders.formats.limits import MAX_MESSAGES, too_many

_BOMS = ((b"\xef\xbb\xbf", "utf-8"), (b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16"))
_HEADER = re.compile(rb"^MSH([^A-Za-z0-9\s])")
_ENVELOPE = re.compile(rb"^(FHS|BHS|BTS|FTS)([^A-Za-z0-9\s])")
_ENVELOPE_ENDS = frozenset({b"HS", b"TS"})
_LOST_HEADER = re.compile(rb"^.{0,6}?\|\^~\\?&?#?\|")
"""A header whose name is damaged still shows the usual separators."""
_GLUED_HEADER = re.compile(rb"MSH(?=([^A-Za-z0-9\s])[^A-Za-z0-9\s]{2,5}\1)")
_SOFT = b"\x01"
"""Stands for a line feed that is text while lines are cut: a control character that is no part of any text."""
_NAMES = rb"(?:MSH|PID|PV1|PV2|AL1|NTE|ORC|OBR|TQ1|TQ2|OBX|SPM|SAC|FHS|BHS|BTS|FTS)[^A-Za-z0-9\s]"
_SEGMENT = re.compile(rb"[ \t]*" + _NAMES)
_AFTER_CR = re.compile(rb"\r[ \t]*" + _NAMES)
_AFTER_LF = re.compile(rb"\n[ \t]*" + _NAMES)
_BLANK = re.compile(rb"(?<=\r)\n+")
_BEFORE_HEADER = re.compile(rb"(?<=[\r\n])(?=MSH[^A-Za-z0-9\s])|(?=\x0b)|(?<=\x1c)")
_HEADER_LF = re.compile(rb"MSH[^\r\n]*\n")
_FRAME = b"\x0b\x1c"
"""First and last byte of a message in the minimal lower layer protocol."""
_FIRST_BYTES = re.compile(rb"^[\x0b\x1c\s]*(?:\xef\xbb\xbf)?[\x0b\x1c\s]*(MSH|FHS|BHS)[^A-Za-z0-9\s]")


@dataclass(slots=True)
class RawMessage:
    """The lines of one message with their numbers in the file. ``damage`` says what is wrong with its frame."""

    lines: list[tuple[int, bytes]] = field(default_factory=list)
    damage: str = ""
    has_header: bool = True
    suspects: list[int] = field(default_factory=list)
    """Lines of text that look like segments: they follow a line feed, and this message ends segments with CR."""
    is_cut: bool = False
    """True when its last line, or its frame, has no end."""


def looks_like_hl7(data: bytes) -> bool:
    """Return whether a file begins as a file of messages does: MSH, FHS or BHS, possibly in an MLLP frame."""
    return _FIRST_BYTES.match(_as_bytes(data[:400])) is not None or data[:1] == b"\x0b"


def has_last_end(data: bytes) -> bool:
    """Return whether the last line of a file has an end: a file cut short has none."""
    return _as_bytes(data).rstrip(b"\x00 \t")[-1:] in (b"", b"\r", b"\n")


def split_messages(data: bytes, report: Report, where: Source, ends_lines: bool = True) -> list[RawMessage]:
    """Return the messages of a file in their order; batch counts that do not agree need a decision.

    ``ends_lines``: the sender ends the last line too, so that one without an end is cut.
    """
    messages: list[RawMessage] = []
    if (found := data.count(b"MSH")) > MAX_MESSAGES:
        report.add("input-too-large", Severity.ERROR, too_many("messages", found, MAX_MESSAGES), source=where)
        return messages
    batch = _Batches(report, where)
    current: RawMessage | None = None
    is_framed = b"\x0b" in data or b"\x1c" in data
    closes_frames = b"\x1c" in data
    numbered_lines, suspects = _lines(data)
    for numbered in numbered_lines:
        number, whole = numbered
        if current is not None and not is_framed and _is_ordinary(whole):
            current.lines.append(numbered)
            continue
        line = whole.strip(_FRAME)
        if whole[:1] in (b"\x0b", b"\x1c"):
            if current is not None and whole[:1] == b"\x0b" and closes_frames:
                current.is_cut = True
            current = None
        if not line:
            continue
        if line[1:3] in _ENVELOPE_ENDS and (envelope := _ENVELOPE.match(line)):
            batch.see(envelope[1].decode(), line.split(envelope[2]), number)
            current = None
            continue
        for index, part in enumerate(_parts(line)):
            if _HEADER.match(part):
                if index and current is not None:
                    current.is_cut = True
                current = RawMessage([(number, part)])
                messages.append(current)
                batch.num_messages += 1
            elif b"^~" in part[:12] and _LOST_HEADER.match(part) and not part.startswith(b"MSH"):
                current = RawMessage([(number, part)], "its header segment has lost its name", False)
                messages.append(current)
                batch.num_messages += 1
            elif current is None:
                current = RawMessage([(number, part)], "it has no header segment", False)
                messages.append(current)
            else:
                current.lines.append((number, part))
        if whole[-1:] == b"\x1c":
            current = None
    if current is not None and (closes_frames or (ends_lines and not has_last_end(data))):
        current.is_cut = True
    batch.close()
    _share_out(suspects, messages)
    return messages


def _share_out(suspects: list[int], messages: list[RawMessage]) -> None:
    """Give every line that only looks like a segment to the message in which it stands."""
    if suspects:
        begins = [message.lines[0][0] for message in messages]
        for number in suspects:
            if (index := bisect_right(begins, number) - 1) >= 0:
                messages[index].suspects.append(number)


def _is_ordinary(line: bytes) -> bool:
    """Return whether a line can be neither a header, whole or damaged, nor an envelope: most lines, told quickly."""
    return b"MSH" not in line and b"^~" not in line[:12] and line[1:3] not in _ENVELOPE_ENDS


def _as_bytes(data: bytes) -> bytes:
    """Return the file in a character set in which separators are single bytes."""
    for mark, codec in _BOMS:
        if data.startswith(mark):
            return data[3:] if codec == "utf-8" else data.decode(codec, errors="replace").encode("utf-8")
    return data


def _lines(data: bytes) -> tuple[list[tuple[int, bytes]], list[int]]:
    """Return the lines that are not blank, with their numbers from 1, and the numbers of lines of text that look like
    segments.

    Where a message ends its segments with CR, as the standard has it, a line feed is text and the segment goes on.
    """
    data = _as_bytes(data).replace(b"\r\n", b"\r").replace(b"\x00", b"").replace(_SOFT, b" ")
    if b"\n" in data and b"\r" in data:
        data = b"".join(_with_text_kept(block) for block in _blocks(_BLANK.sub(_as_returns, data)))
    data = data.replace(b"\n", b"\r")
    if b"\x0b" in data or b"\x1c" in data:
        data = re.sub(rb"(?<=[^\r\x0b\x1c])([\x0b\x1c]+)(?=[^\r])", rb"\r\1", data)
    found, suspects = [], []
    number = 1
    for line in data.split(b"\r"):
        if plain := line.lstrip(b" \t"):
            if _SOFT in plain:
                pieces = plain.split(_SOFT)
                suspects += [number + i for i, piece in enumerate(pieces) if i and _SEGMENT.match(piece)]
                plain = b"\n".join(pieces)
            found.append((number, plain))
        number += 1 + line.count(_SOFT)
    return found, suspects


def _as_returns(match: re.Match[bytes]) -> bytes:
    return b"\r" * len(match[0])


def _blocks(data: bytes) -> Iterator[bytes]:
    """Yield a file cut before each header that begins a message.

    A header after a line feed in a message whose segments end with CR is text, unless it ends with CR itself.
    """
    start = 0
    for match in _BEFORE_HEADER.finditer(data):
        at = match.start()
        is_text = data[at - 1 : at] == b"\n" and _ends_with_cr(data[start:at]) and _HEADER_LF.match(data, at)
        if at and not is_text:
            yield data[start:at]
            start = at
    yield data[start:]


def _ends_with_cr(block: bytes) -> bool:
    """Return whether a message ends its segments with CR: its header does, and most names of segments follow one."""
    if _HEADER_LF.match(block.lstrip(b"\x0b\x1c\r\n \t")):
        return False
    hard = len(_AFTER_CR.findall(block))
    return hard > 0 and hard >= len(_AFTER_LF.findall(block))


def _with_text_kept(block: bytes) -> bytes:
    """Return a message with every line feed that is text replaced by `_SOFT`."""
    if b"\n" not in block or not _ends_with_cr(block):
        return block
    body = block.rstrip(b"\r\n")
    return body.replace(b"\n", _SOFT) + block[len(body) :]


def _parts(line: bytes) -> list[bytes]:
    """Return a line cut before every header that stands in the middle of it."""
    if line.find(b"MSH", 3) < 0:
        return [line]
    cuts = [m.start() for m in _GLUED_HEADER.finditer(line, 3) if line[m.start() - 1 : m.start()] != b"\n"]
    edges = [0, *cuts, len(line)]
    return [line[a:b] for a, b in itertools.pairwise(edges)]


class _Batches:
    """Counts messages and batches against what their trailers say."""

    def __init__(self, report: Report, where: Source) -> None:
        self.num_messages = 0
        self._num_batches = 0
        self._report = report
        self._where = where
        self._open = ""

    def see(self, name: str, fields: list[bytes], line: int) -> None:
        """Take note of an envelope segment."""
        if name == "BHS":
            self.num_messages = 0
        stated = fields[1].strip() if len(fields) > 1 else b""
        if name == "BTS":
            self._num_batches += 1
            self._compare("messages of the batch", stated, self.num_messages, line, "BTS-1")
        elif name == "FTS":
            self._compare("batches of the file", stated, self._num_batches, line, "FTS-1")
        if name in ("BHS", "FHS"):
            self._open = name
        elif name == ("BTS" if self._open == "BHS" else "FTS"):
            self._open = ""

    def close(self) -> None:
        """Say when a batch or file was begun and not ended: the rest may be missing."""
        if self._open == "BHS":
            self._add("the last batch has no end (BTS); the file may be cut short. Have it sent again", None, "BTS")

    def _compare(self, what: str, stated: bytes, found: int, line: int, field_name: str) -> None:
        if stated.isdigit() and len(stated) < 10 and int(stated) != found:
            message = f"{int(stated)} {what} are stated, {found} were found; some may be missing. Have it sent again"
            self._add(message, line, field_name)

    def _add(self, message: str, line: int | None, field_name: str) -> None:
        source = Source(file=self._where.file, row=line, column=field_name, is_message=True)
        self._report.add("batch-count", Severity.ERROR, message, source=source)
