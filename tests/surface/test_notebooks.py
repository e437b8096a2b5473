"""Every notebook runs from top to bottom within a minute and shows figures."""

from __future__ import annotations

import time
from pathlib import Path

import nbformat
import numpy as np
import pytest
from conftest import compile_engine
from nbclient import NotebookClient

from budget.engine.network import Furnace, Network

FOLDER = Path(__file__).resolve().parents[2] / "notebooks"
NOTEBOOKS = sorted(FOLDER.glob("*.ipynb"))
MOST_S = 60.0


@pytest.fixture(scope="module")
def compiled() -> None:
    """Both marches compiled, so that a minute is a notebook's own, as it is for a reader's second one."""
    compile_engine()
    room = Network(
        capacity_j_per_k=np.array([1e6]), edge_from=np.array([0]), edge_to=np.array([-1]), edge_w_per_k=np.array([50.0])
    )
    hour = {"start_c": np.array([20.0]), "outdoor_c": np.zeros(1), "heat_w": np.zeros((1, 1))}
    furnace = Furnace(sensor=0, share=np.ones(1), outputs_w=np.array([0.0, 1e3]), efficiency=np.ones(2), band_k=0.1)
    room.march(**hour)
    room.march(**hour, furnace=furnace, setpoint_c=np.full(1, 20.0))


def test_there_are_the_five_notebooks() -> None:
    assert [path.name[:2] for path in NOTEBOOKS] == ["01", "02", "03", "04", "05"]


@pytest.mark.filterwarnings("default")  # of the kernel's machinery; what the cells warn of is looked at below
@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.name)
def test_a_notebook_runs_within_a_minute_and_shows_figures(path: Path, tmp_path: Path, compiled: None) -> None:
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
