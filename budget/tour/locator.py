"""Which line of a TOML text a field stands on."""

from __future__ import annotations

import re
from bisect import bisect_left

from budget.tour.faults import Path

_ENDS_BARE_VALUE = ",]}\n#"


class _Scanner:
    """One pass over a text that is known to be valid TOML, noting the line of every key, table and list item."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.breaks = [match.start() for match in re.finditer("\n", text)]
        self.lines: dict[Path, int] = {}
        self.items: dict[Path, int] = {}

    def run(self) -> dict[Path, int]:
        table: Path = ()
        while self._skip_blank():
            if self.text.startswith("[[", self.at):
                table = self._list_item(self._header("]]"))
            elif self.text[self.at] == "[":
                table = self._in_last_items(self._header("]"))
                self._note(table)
            else:
                self._pair(table)
        return self.lines

    def _note(self, path: Path) -> None:
        line = bisect_left(self.breaks, self.at) + 1
        for length in range(1, len(path) + 1):
            self.lines.setdefault(path[:length], line)

    def _skip_blank(self) -> bool:
        while self.at < len(self.text):
            if self.text[self.at] == "#":
                self._to_line_end()
            elif self.text[self.at] in " \t\r\n,":
                self.at += 1
            else:
                return True
        return False

    def _to_line_end(self) -> None:
        end = self.text.find("\n", self.at)
        self.at = len(self.text) if end < 0 else end

    def _header(self, closing: str) -> Path:
        self.at += len(closing)
        path = self._key(closing[0])
        self.at += len(closing)
        return path

    def _key(self, end: str) -> Path:
        parts: list[str] = []
        while self.at < len(self.text) and self.text[self.at] != end:
            character = self.text[self.at]
            if character in "\"'":
                parts.append(self._string())
            elif character in " \t.":
                self.at += 1
            else:
                first = self.at
                while self.at < len(self.text) and self.text[self.at] not in f" \t.{end}":
                    self.at += 1
                parts.append(self.text[first : self.at])
        return tuple(parts)

    def _string(self) -> str:
        quote = self.text[self.at]
        fence = quote * 3 if self.text.startswith(quote * 3, self.at) else quote
        first = self.at = self.at + len(fence)
        while self.at < len(self.text) and not self.text.startswith(fence, self.at):
            self.at += 2 if quote == '"' and self.text[self.at] == "\\" else 1
        last = self.at
        self.at += len(fence)
        while len(fence) == 3 and self.text.startswith(quote, self.at):
            self.at += 1
        return self.text[first:last]

    def _in_last_items(self, path: Path) -> Path:
        found: Path = ()
        for part in path:
            found = (*found, part)
            if found in self.items:
                found = (*found, self.items[found])
        return found

    def _list_item(self, path: Path) -> Path:
        of: Path = (*self._in_last_items(path[:-1]), path[-1])
        self.items[of] = self.items.get(of, -1) + 1
        item: Path = (*of, self.items[of])
        self._note(item)
        return item

    def _pair(self, table: Path) -> None:
        path = (*table, *self._key("="))
        self._note(path)
        self.at += 1
        self._value(path)

    def _value(self, path: Path) -> None:
        while self.text[self.at] in " \t":
            self.at += 1
        character = self.text[self.at]
        if character in "\"'":
            self._string()
        elif character == "[":
            self._inside("]", path)
        elif character == "{":
            self._inside("}", path)
        else:
            while self.at < len(self.text) and self.text[self.at] not in _ENDS_BARE_VALUE:
                self.at += 1

    def _inside(self, closing: str, path: Path) -> None:
        self.at += 1
        number = 0
        while self._skip_blank() and self.text[self.at] != closing:
            if closing == "}":
                self._pair(path)
            else:
                self._note((*path, number))
                self._value((*path, number))
                number += 1
        self.at += 1


def key_lines(text: str) -> dict[Path, int]:
    """Line (from 1) of every key, table and list item of a valid TOML text."""
    return _Scanner(text).run()


def line_of(lines: dict[Path, int], path: Path) -> int | None:
    """Line of a field, or of the nearest thing that holds it."""
    for length in range(len(path), 0, -1):
        if path[:length] in lines:
            return lines[path[:length]]
    return None
