"""Which files hold electronic messages rather than tables."""

from __future__ import annotations

from planner.loaders.messages.hl7.framing import looks_like_hl7

_JSON_ENDINGS = (".json", ".ndjson")


def is_message_file(name: str, data: bytes) -> bool:
    """Return whether a file holds HL7 v2 messages or FHIR resources: by its ending, or by how it begins."""
    lower = name.lower()
    if lower.endswith((".hl7", *_JSON_ENDINGS)):
        return True
    if not lower.endswith(".txt"):
        return False
    return looks_like_hl7(data) or (
        data[:20].lstrip(b"\xef\xbb\xbf \r\n\t")[:1] in (b"{", b"[") and b"resourceType" in data
    )


def is_json(name: str, data: bytes) -> bool:
    """Return whether a message file is JSON rather than HL7 v2."""
    if looks_like_hl7(data):
        return False
    return name.lower().endswith(_JSON_ENDINGS) or data[:100].lstrip(b"\xef\xbb\xbf\xff\xfe\x00 \r\n\t")[:1] in (
        b"{",
        b"[",
    )
