"""Colours, dashes and the common frame of every figure: legible in light, dark, monochrome and print."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from html import escape
from typing import Any

# Hues that people with any common colour vision tell apart (after M. Okabe and K. Ito, Color Universal Design, 2008,
# from memory), darkened or lightened until text and lines keep 3:1 against the page; names stand in the figures.
COLOURS: dict[str, dict[str, str]] = {
    "light": {
        "ink": "#1b1f24", "muted": "#57606a", "grid": "#dfe3e8", "paper": "#ffffff", "shade": "#eceff3",
        "blue": "#0063a3", "orange": "#b36b00", "green": "#007a59", "red": "#c04000", "purple": "#9a4a78",
        "grey": "#6b7480", "sky": "#2b83ba", "cold": "#2166ac", "mid": "#f7f7f7", "warm": "#d6604d", "none": "#f3f5f7",
        "ice": "#8fbfe6", "near": "#f6d28f",
    },
    "dark": {
        "ink": "#e6e9ed", "muted": "#a4adb8", "grid": "#343b44", "paper": "#15191e", "shade": "#20262d",
        "blue": "#5fb3f0", "orange": "#f0b040", "green": "#3cc79c", "red": "#ff8a5c", "purple": "#dd9cc4",
        "grey": "#98a1ac", "sky": "#8ccbf0", "cold": "#67a9e0", "mid": "#2a3038", "warm": "#f08a70", "none": "#1d2329",
        "ice": "#4a86ba", "near": "#7a5a1a",
    },
}  # fmt: skip
STYLES = (
    ("blue", "solid", "circle"),
    ("orange", "dash", "square"),
    ("green", "dot", "diamond"),
    ("red", "dashdot", "triangle-up"),
    ("purple", "longdash", "x"),
    ("grey", "longdashdot", "cross"),
)
PATTERNS = ("", "/", ".", "x", "-", "\\", "|", "+")
_TOKEN = re.compile(r'"token:(\w+)"')


def colour(name: str) -> str:
    """A colour by name, put in when the figure is drawn."""
    if name not in COLOURS["light"]:
        raise KeyError(name)
    return f"token:{name}"


def coloured(figure: Mapping[str, Any], mode: str) -> Any:
    """A figure with its colours put in, for ``light`` or ``dark``."""
    palette = COLOURS[mode]
    return json.loads(_TOKEN.sub(lambda found: json.dumps(palette.get(found[1], "#888888")), json.dumps(figure)))


def style_sheet() -> str:
    """The colours as custom properties of the page."""

    def block(mode: str) -> str:
        return "".join(f"--{name}:{value};" for name, value in COLOURS[mode].items())

    light, dark = block("light"), block("dark")
    return (
        f":root{{{light}color-scheme:light}}"
        f"@media (prefers-color-scheme:dark){{:root:not([data-theme=light]){{{dark}color-scheme:dark}}}}"
        f":root[data-theme=dark]{{{dark}color-scheme:dark}}"
        f"@media print{{:root,:root:not([data-theme=light]),:root[data-theme=dark]{{{light}color-scheme:light}}}}"
    )


def written(typed: str) -> str:
    """Text for plotly, which reads tags: nothing that was typed becomes one."""
    return escape(typed, quote=False)


def hatch(hue: str, pattern: str, size: int = 7, solidity: float = 0.4) -> dict[str, Any]:
    """A hatching of a colour on the page's own."""
    return {"shape": pattern, "fgcolor": colour(hue), "bgcolor": colour("paper"), "size": size, "solidity": solidity}


def bar_look(hue: str, pattern: str) -> dict[str, Any]:
    """A bar told apart by colour and hatching."""
    return {"color": colour(hue), "line": {"color": colour(hue), "width": 1}, "pattern": hatch(hue, pattern)}


def axis(title: str, **more: Any) -> dict[str, Any]:
    """An axis with its quantity and unit."""
    base = {
        "title": {"text": title, "standoff": 6},
        "gridcolor": colour("grid"),
        "linecolor": colour("grid"),
        "zerolinecolor": colour("muted"),
        "zeroline": False,
        "automargin": True,
        "fixedrange": True,
    }
    return {**base, **more}


def time_axis(**more: Any) -> dict[str, Any]:
    """The tour's local time."""
    formats = [
        {"dtickrange": [None, 43_200_000], "value": "%H:%M\n%a %d %b"},
        {"dtickrange": [43_200_001, None], "value": "%a\n%d %b"},
    ]
    return axis(
        "local time",
        type="date",
        tickformatstops=formats,
        hoverformat="%a %d %b %H:%M",
        **{"fixedrange": False, **more},
    )


def layout(**more: Any) -> dict[str, Any]:
    """The frame that every figure shares."""
    base = {
        "margin": {"l": 56, "r": 16, "t": 8, "b": 56},
        "font": {
            "family": "system-ui, -apple-system, 'Segoe UI', Roboto, 'Noto Sans', sans-serif",
            "size": 13,
            "color": colour("ink"),
        },
        "legend": {
            "orientation": "h",
            "x": 0,
            "xanchor": "left",
            "y": 1.02,
            "yanchor": "bottom",
            "itemwidth": 36,
            "traceorder": "normal",
        },
        "hovermode": "x",
        "hoverlabel": {
            "bgcolor": colour("paper"),
            "bordercolor": colour("muted"),
            "font": {"color": colour("ink"), "size": 13},
            "align": "left",
            "namelength": 0,
        },
        "barmode": "relative",
        "showlegend": True,
    }
    return {**base, **more}
