"""Every notebook runs from top to bottom within a minute and shows figures."""

from __future__ import annotations

import time
from pathlib import Path

import nbformat
import pytest
from nbclient import NotebookClient

FOLDER = Path(__file__).resolve().parents[2] / "notebooks"
NOTEBOOKS = sorted(FOLDER.glob("*.ipynb"))
MOST_S = 60.0


def test_there_is_a_notebook() -> None:
    assert NOTEBOOKS


@pytest.mark.filterwarnings("default")  # of the kernel's machinery; what the cells warn of is looked at below
@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.name)
def test_a_notebook_runs_within_a_minute_and_shows_figures(path: Path, tmp_path: Path) -> None:
    notebook = nbformat.read(path, as_version=4)
    started = time.monotonic()
    client = NotebookClient(
        notebook, timeout=int(MOST_S), kernel_name="python3", resources={"metadata": {"path": tmp_path}}
    )
    client.execute()
    assert time.monotonic() - started < MOST_S
    outputs = [output for cell in notebook.cells if cell.cell_type == "code" for output in cell.outputs]
    assert any("application/vnd.plotly.v1+json" in output.get("data", {}) for output in outputs)
    assert [output.text for output in outputs if output.output_type == "stream" and output.name == "stderr"] == []


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.name)
def test_a_notebook_is_kept_without_outputs(path: Path) -> None:
    """So that a change of code is a change of few lines; the outputs are made in the tests."""
    notebook = nbformat.read(path, as_version=4)
    assert all(cell.get("outputs", []) == [] for cell in notebook.cells)
