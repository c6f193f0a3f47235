"""Reads laboratory orders from HL7 v2 messages, whatever their version, line ends and framing."""
