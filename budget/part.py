"""The base of every described part: frozen, keyword-only, no unknown keys, every number with its unit and range."""

from __future__ import annotations

from typing import Any

from pydantic import BaseModel, ConfigDict, Field

LONGEST_TEXT = 200  # of a title or a name; longer is no name, and would fill the screen


class Part(BaseModel):
    """A validated, immutable description; a half-built one does not exist."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False, validate_default=True)


def quantity(default: Any, meaning: str, *, low: float, high: float, spread: tuple[float, float] | None = None) -> Any:
    """A numeric field: its default (``...`` for compulsory), meaning, refused-outside limits and common range.

    ``low`` and ``high`` are inclusive limits outside which the value is refused; ``spread`` is the range that
    common practice reports, carried into the JSON Schema and the odds.
    """
    extra: dict[str, Any] | None = {"common_practice_range": list(spread)} if spread else None
    return Field(default, description=meaning, ge=low, le=high, json_schema_extra=extra)


def text(default: Any, meaning: str) -> Any:
    """A word or a name."""
    return Field(default, description=meaning, max_length=LONGEST_TEXT)
