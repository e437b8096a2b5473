"""A report opened in a real Chromium, and what it said and asked for meanwhile."""

from __future__ import annotations

import os
import shutil
from pathlib import Path
from typing import Any

DRAWN = "html[data-drawn]"
PATIENCE_MS = 120_000  # a busy two-core machine draws in 10 s; this only keeps a hanging page from hanging the test
ARGUMENTS = ("--no-sandbox", "--disable-gpu", "--disable-background-networking")


def opened(browser: Any, path: Path, width: int = 1280, **how: Any) -> tuple[Any, list[str], list[str]]:
    """A tab with the page drawn, what it said on the console, and what it asked for from outside."""
    tab = browser.new_context(viewport={"width": width, "height": 900}, **how).new_page()
    said: list[str] = []
    asked: list[str] = []
    tab.on("console", lambda message: said.append(f"{message.type}: {message.text}"))
    tab.on("pageerror", lambda fault: said.append(f"error: {fault}"))
    tab.on("request", lambda request: asked.append(request.url))
    tab.goto(path.as_uri())
    tab.wait_for_selector(DRAWN, state="attached", timeout=PATIENCE_MS)
    return tab, said, [url for url in asked if not url.startswith(("file:", "data:"))]


def chromium() -> str | None:
    """Where the browser is."""
    return os.environ.get("BUDGET_CHROMIUM") or shutil.which("chromium") or shutil.which("chromium-browser")
