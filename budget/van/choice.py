"""Answers that may be a preset's word or a full table of numbers."""

from __future__ import annotations

import difflib
import re
from typing import Any

from pydantic import Discriminator, GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic_core import CoreSchema, core_schema

from budget.van import presets


class Word:
    """Annotation of a text field that must be the word of a preset of one kind; the letters' case is free."""

    def __init__(self, kind: str) -> None:
        self.kind = kind

    def check(self, written: str) -> str:
        """The preset's word as the packaged data write it. ValueError, as one sentence, when there is none."""
        try:
            return presets.get(self.kind, written).word
        except KeyError:
            known = list(presets.load(self.kind))
        numbers = set(re.findall(r"\d+", written))
        like = {word.casefold(): word for word in known if numbers <= set(re.findall(r"\d+", word))}
        near = difflib.get_close_matches(written.casefold(), like, n=1, cutoff=0.6)
        advice = f'the nearest is "{like[near[0]]}"' if near else "write one of them"
        quoted = ", ".join(f'"{word}"' for word in known)
        raise ValueError(f'must be one of {quoted}, got "{written[:60]}"; {advice}')

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.no_info_after_validator_function(self.check, handler(source))

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        return {"type": "string", "enum": list(presets.load(self.kind))}


def _word_or(other: str) -> Discriminator:
    return Discriminator(lambda value: "word" if isinstance(value, str) else other)


word_or_table = _word_or("table")
word_or_list = _word_or("list")
