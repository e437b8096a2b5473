"""Text that is written as TOML is read back as it was, whatever it holds."""

from __future__ import annotations

import tomllib

import pytest

from budget.tour.toml_text import toml_string


@pytest.mark.parametrize(
    "words", ["", 'a "wide" \\ one', "my\nbottle", "a\ttab\r", "\x00\x1f\x7f\x85\u2028\u2029", "\xa0 氣 é 🚐"]
)
def test_any_text_stands_on_one_line_and_is_read_back(words: str) -> None:
    written = toml_string(words)
    assert tomllib.loads(f"name = {written}") == {"name": words}
    assert len(written.splitlines()) == 1


def test_what_a_person_can_read_stands_as_it_is_and_the_rest_is_escaped() -> None:
    assert toml_string('fläschchen "氣"') == '"fläschchen \\"氣\\""'
    assert toml_string("a\tb\nc\rd\\e\x1b\x85") == '"a\\tb\\nc\\rd\\\\e\\u001b\\u0085"'


def test_a_byte_that_is_no_text_leaves_a_file_that_can_be_read() -> None:
    """A file name that is not UTF-8 arrives with half a character of UTF-16 for such a byte."""
    written = toml_string("n\udce9.csv")
    assert tomllib.loads(f"name = {written}".encode().decode()) == {"name": "n\ufffd.csv"}
