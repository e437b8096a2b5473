"""Text as TOML writes it: whatever it holds, it is read back as it was."""

from __future__ import annotations

import unicodedata

_SHORT = {"\\": "\\\\", '"': '\\"', "\t": "\\t", "\n": "\\n", "\r": "\\r"}
_NO_TEXT = "Cs"  # half a character of UTF-16, which no TOML file can hold: a byte of a file name that is not UTF-8
_ESCAPED = ("Cc", "Zl", "Zp")  # control characters and breaks of line and paragraph, which nobody could see


def toml_string(words: str) -> str:
    """A basic string in double quotes, on one line; what is no text at all is written as U+FFFD."""
    return f'"{"".join(_character(each) for each in words)}"'


def _character(each: str) -> str:
    kind = unicodedata.category(each)
    if each in _SHORT:
        return _SHORT[each]
    if kind == _NO_TEXT:
        return "\ufffd"
    return f"\\u{ord(each):04x}" if kind in _ESCAPED else each
