"""Tables and words on the terminal: as wide as it is, without colour where that is asked for."""

from __future__ import annotations

import pytest

from budget.cli import records, terminal

COLUMNS = ("", "constant 19 °C", "as planned", "15 °C at night", "off at night", "12 °C while away")
ROWS = [("saved against the first [kg]", "0.0", "10.8", "10.9", "16.7", "2.9"), ("starts", "85", "239", "9", "8", "7")]


@pytest.mark.parametrize("width", [60, 80, 110, 200])
def test_a_table_of_five_variants_keeps_its_names_and_numbers_whole(
    width: int, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The headings of numbers break between words, so that the first column never folds into syllables."""
    monkeypatch.setenv("COLUMNS", str(width))
    terminal.table(terminal.console(), "Side by side", ROWS, COLUMNS, range(1, 6))
    lines = capsys.readouterr().out.splitlines()
    assert max(len(line) for line in lines) <= min(width, terminal.WIDEST)
    assert next(line.split() for line in lines if "10.8" in line)[-5:] == ["0.0", "10.8", "10.9", "16.7", "2.9"]
    first = " ".join(line[:16].strip() for line in lines)
    assert "saved against" in first
    assert len(lines) <= 10


def test_minus_signs_and_spaces_are_those_that_people_type_and_search() -> None:
    assert terminal.words("−5 °C, 1\u202f890 Ah, 96 % – as it is").plain == "-5 °C, 1 890 Ah, 96 % – as it is"


@pytest.mark.parametrize(("name", "coloured"), [("NO_COLOR", False), ("FORCE_COLOR", True)])
def test_no_color_is_respected(name: str, coloured: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where colour is forced upon a pipe there is some, with NO_COLOR none: https://no-color.org (from memory)."""
    for other in ("NO_COLOR", "FORCE_COLOR"):
        monkeypatch.delenv(other, raising=False)
    monkeypatch.setenv(name, "1")
    monkeypatch.setenv("TERM", "xterm-256color")
    assert (terminal.console().color_system is not None) == coloured


def test_a_table_too_wide_for_the_terminal_goes_on_below_with_its_first_column(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    names = [f"weather.offset_k=-{number}" for number in range(9)]
    rows = [("gas [kg]", *(f"{number}.0" for number in range(9))), ("starts", *(str(30 + n) for n in range(9)))]
    terminal.table(terminal.console(), "Side by side", rows, ("", *names), range(1, 10))
    lines = capsys.readouterr().out.splitlines()
    assert max(len(line) for line in lines) <= 80
    gas, starts = ([line.split() for line in lines if line.startswith(label)] for label in ("gas [kg]", "starts"))
    assert len(gas) == len(starts) == 3
    assert [cell for line in gas for cell in line[2:]] == list(rows[0][1:])
    assert [cell for line in starts for cell in line[1:]] == list(rows[1][1:])
    assert [name for line in lines for name in line.split() if "=" in name] == names


def test_long_names_are_cut_and_their_columns_stay(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Up to 60 letters of a text are shown, "..." included, and nothing beside it is pushed over the edge."""
    monkeypatch.setenv("COLUMNS", "80")
    whole, long = "n" * 60, "the bottle of " + "n" * 186
    swap = {"time": "Mon 11 Jan 08:00", "place": long, "name": whole, "needed": True, "left_kg": 2.69, "added_kg": 11}
    swap |= {"bottle_c": -7.5, "level_share": 0.5}
    records._draw(("Said.",), {"Swaps": [swap, swap | {"name": long}]})
    lines = capsys.readouterr().out.splitlines()[3:]
    head = next(number for number, line in enumerate(lines) if "needed" in line)
    assert [line.split()[-5:] for line in lines if "yes" in line] == 2 * [["yes", "2.69", "11", "-7.50", "50"]]
    place, name, needed = (lines[head].index(word) for word in ("place", "name", "needed"))
    places, names = (
        "".join(line[first:last] for line in lines[head + 1 :]).replace(" ", "")
        for first, last in ((place, name), (name, needed))
    )
    assert places == 2 * f"thebottleof{'n' * 43}..."
    assert names == f"{whole}thebottleof{'n' * 43}..."
