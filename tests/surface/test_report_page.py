"""The report as a file: small, alone, and legible by its palette."""

from __future__ import annotations

import dataclasses
import itertools
import re
from pathlib import Path

import pytest
from sample_reports import demo, sliders, whole, whole_parts

from budget.report import markup, theme
from budget.report.cautions import CAUTIONS
from budget.report.page import QUESTIONS, page
from budget.report.provenance import assumptions
from budget.report.reading import figures_of
from budget.report.scene import Scene
from budget.report.section import Chart, Extras, Section, Table
from budget.results.provenance import input_hash


def figures() -> list[Section]:
    """Those of every report, and those that odds and the other answers add."""
    added = [section for section in whole_parts()[1] if section.figure is not None]
    return [*figures_of(demo(), Scene.of(demo().timeline)), *added]


def test_every_question_has_its_place_in_the_page() -> None:
    asked = {section.title for section in (*figures(), *whole_parts()[1])}
    assert asked == set(QUESTIONS)
    titles = re.findall(r'<h2 id="figure-\d+-q">([^<]+)<', whole())
    assert titles == [markup.shown(question) for question in QUESTIONS]


def test_a_column_of_numbers_stands_right_with_a_negative_one_in_it_too() -> None:
    shown = markup.table(Table(("what", "°C"), (("cold", "−1"), ("warm", "20"))), "")
    assert shown.count('class="n"') == 3


def test_a_column_of_short_words_is_not_broken_on_paper_and_one_with_a_sentence_is() -> None:
    shown = markup.table(
        Table(("set", "how"), (("4 K lower", "as planned"), ("as planned", "the mean of its hours"))), ""
    )
    assert (shown.count('<td class="s">'), shown.count("<td>")) == (2, 2)


@pytest.mark.parametrize(
    ("tall_px", "lines", "paper_px"), [(300, 0, 300), (400, 0, 360), (560, 0, 409), (589, 22, 484)]
)
def test_on_paper_a_tall_figure_is_drawn_lower_unless_its_rows_would_lose_their_words(
    tall_px: int, lines: int, paper_px: int
) -> None:
    """22 lines of 17 px and 110 px of frame."""
    chart = Chart((), {}, "", tall_px, lines=lines)
    assert f"--paper:{paper_px}px" in markup.section(Section("Why?", "So.", chart), "figure-1")


@pytest.mark.parametrize(
    ("typed", "shown"),
    [
        ("6 m)", "6\u00a0m)"),
        ("170 km from", "170\u00a0km from"),
        ("100 cases (± 2 %)", "100 cases (±\u00a02\u00a0%)"),
        ("4 m/s", "4\u00a0m/s"),
        ("-3 minutes", "−3 minutes"),
    ],
)
def test_a_number_stays_on_one_line_with_its_unit_and_its_sign(typed: str, shown: str) -> None:
    assert markup.shown(typed) == shown


def test_every_curve_of_a_legend_has_a_button_in_its_order_and_what_belongs_together_has_one() -> None:
    """Outdoors is drawn first and named last; the shading's word stands for no curve; a lone curve is not switched."""
    shown = markup.section(figures_of(demo(), Scene.of(demo().timeline))[1], "figure-1")
    buttons = re.findall(r'aria-pressed="true" data-curves="([\d ]+)">([^<]+)<', shown)
    assert [name for _, name in buttons] == [
        "living area", "cab", "wet room", "garage", "setpoint", "heat from gas", "heat from mains", "outdoors",
    ]  # fmt: skip
    assert dict(buttons)["0"] == "outdoors"
    panels = next(section for section in figures() if section.title == "Which schedule for the night?")
    switches = re.findall(r'data-curves="([\d ]+)">([^<]+)<', markup.section(panels, "figure-1"))
    assert switches == [("0 4 8 12", "air"), ("1 5 9 13", "setpoint"), ("2 6 10 14", "heat")]
    alone = Chart(({"name": "a & b", "x": [1]},), {"showlegend": True}, "")
    pair = Chart((*alone.traces, {"name": "c &lt; d", "x": [1]}), {"showlegend": True}, "")
    assert "data-curves" not in markup.section(Section("Why?", "So.", alone), "figure-1")
    assert ">c &lt; d</button>" in markup.section(Section("Why?", "So.", pair), "figure-1")


def test_the_assumptions_begin_with_what_the_van_loses_as_the_tour_heats_it() -> None:
    table = assumptions(demo()).table
    assert table is not None
    assert [row[0] for row in table.rows[:2]] == [
        "as heated on this tour", "as heated, screens up, openings closed",
    ]  # fmt: skip


def test_without_odds_the_page_says_how_to_get_them_and_leaves_their_cards_out() -> None:
    html = page(demo(), Extras())
    assert "add --odds 200 to the run" in html
    assert "<h3>Coldest night</h3>" in html
    assert "<h3>Tonight</h3>" not in html and "<h3>On 6 or 10" not in html


@pytest.fixture(scope="module")
def report(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("out") / "report.html"
    place.write_text(page(demo(), Extras(), [sliders()]), "utf-8")
    return place


def test_the_page_is_one_file_well_under_10_megabytes(report: Path) -> None:
    """7 MB: plotly.js is 4.8 MB of it, the demo's hours less than 1 MB."""
    assert report.stat().st_size < 7e6


def test_the_page_loads_nothing_from_elsewhere(report: Path) -> None:
    """No element that fetches, plotly.js itself left aside; and the page forbids itself the network."""
    text = report.read_text(encoding="utf-8")
    scripts = re.compile(r"<script>.*?</script>", re.DOTALL)
    assert not re.search(r"(?:src|href)=(?![\"']?data:)|url\(|@import", scripts.sub("", text))
    assert "default-src 'none'" in text


def test_every_caution_is_on_the_page(report: Path) -> None:
    text = report.read_text(encoding="utf-8")
    assert [caution for caution in CAUTIONS if markup.shown(caution) not in text] == []


def test_every_figure_asks_answers_is_told_in_words_and_has_its_table() -> None:
    for section in figures():
        assert section.title.endswith("?")
        assert section.answer.endswith(".")
        assert section.figure is not None and section.answer in section.figure.alternative
        assert section.figure.spoken is not None
        assert section.table is not None and section.table.rows


@pytest.mark.parametrize("mode", ["light", "dark"])
def test_every_figure_is_one_that_plotly_accepts(mode: str) -> None:
    """plotly checks each name and value against its own schema."""
    for section in figures():
        assert section.figure is not None
        assert section.figure.plotly(mode).data


def test_every_axis_with_numbers_states_its_unit_or_quantity() -> None:
    for section in figures():
        assert section.figure is not None
        axes = {name: axis for name, axis in section.figure.layout.items() if re.fullmatch(r"[xy]axis\d?", name)}
        for axis in axes.values():
            told = axis["title"]["text"]
            named = axis.get("ticksuffix") or not axis.get("showticklabels", True)  # names, or the neighbour's scale
            if not named:
                assert re.search(r"\[.+\]|local time|night|24 h from noon|Ah a day|full bottles of|of 100", told), (
                    section.title,
                    told,
                )


def test_lines_are_told_apart_without_colour() -> None:
    """By dash, width or filling; bars and areas by their hatching."""
    for section in figures():
        assert section.figure is not None
        looks = []
        for trace in section.figure.traces:
            if trace.get("opacity") == 0 or trace.get("showlegend") is False:
                continue
            line, marker = trace.get("line", {}), trace.get("marker", {})
            pattern = trace.get("fillpattern", marker.get("pattern", {})).get("shape", "")
            where = trace.get("yaxis", "y")
            looks.append(
                (
                    trace["type"],
                    where,
                    line.get("dash"),
                    line.get("width"),
                    trace.get("fill"),
                    pattern,
                    str(marker.get("symbol")),
                )
            )
        assert len(looks) == len(set(looks)), (section.title, looks)


def luminance(colour: str) -> float:
    """Relative luminance of sRGB, WCAG 2.2."""
    parts = [int(colour[k : k + 2], 16) / 255.0 for k in (1, 3, 5)]
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize("mode", ["light", "dark"])
def test_text_and_lines_keep_the_contrast_that_wcag_asks(mode: str) -> None:
    """WCAG 2.2: 4.5 for text (1.4.3), 3 for lines and marks (1.4.11), on the page and on shaded stretches."""
    palette = theme.COLOURS[mode]
    for ground in ("paper", "shade"):
        for name, wanted in (("ink", 4.5), ("muted", 4.5), *((hue, 3.0) for hue, _, _ in theme.STYLES)):
            assert contrast(palette[name], palette[ground]) >= wanted, (name, ground)


def test_both_palettes_name_the_same_colours_and_every_line_its_own_dash() -> None:
    assert theme.COLOURS["light"].keys() == theme.COLOURS["dark"].keys()
    assert all(a[1] != b[1] and a[2] != b[2] for a, b in itertools.combinations(theme.STYLES, 2))


def test_the_input_hash_changes_with_any_input() -> None:
    result = demo()
    other_van = dataclasses.replace(result, van=result.van.model_copy(update={"pipes_frost_c": 4.0}))
    warmer = dataclasses.replace(result, weather_rows=result.weather_rows + 1e-9)
    hashes = [input_hash(r.van, r.tour, r.weather_rows) for r in (result, other_van, warmer, demo())]
    assert len(set(hashes[:3])) == 3
    assert hashes[0] == hashes[3]
