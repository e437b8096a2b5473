"""Files of a run are whole or not there; what is in the way is said in one sentence."""

from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest

from budget.cli.output import OutputFolder, write_file
from budget.errors import InputFault

NAMES = ("report.html", "hourly.csv")


def text(content: str) -> object:
    return lambda place: place.write_text(content, "utf-8")


def inside(folder: Path) -> dict[str, str]:
    return {path.name: path.read_text("utf-8") for path in folder.iterdir()}


def test_files_appear_together_when_all_are_written(tmp_path: Path) -> None:
    folder = tmp_path / "deep" / "out"
    with OutputFolder(folder, NAMES) as out:
        out.write("report.html", text("report"))
        assert not (folder / "report.html").exists()
        out.write("hourly.csv", text("hours"))
    assert inside(folder) == {"report.html": "report", "hourly.csv": "hours"}


def test_a_fault_leaves_the_former_files_as_they_were(tmp_path: Path) -> None:
    with OutputFolder(tmp_path, NAMES) as out:
        out.write("report.html", text("old"))
    with pytest.raises(ZeroDivisionError), OutputFolder(tmp_path, NAMES) as out:
        out.write("report.html", text("new"))
        raise ZeroDivisionError
    assert inside(tmp_path) == {"report.html": "old"}


def test_a_fault_takes_back_the_folders_that_were_made(tmp_path: Path) -> None:
    with pytest.raises(KeyboardInterrupt), OutputFolder(tmp_path / "deep" / "out", NAMES) as out:
        out.write("report.html", text("new"))
        raise KeyboardInterrupt
    assert list(tmp_path.iterdir()) == []


def test_a_full_disk_leaves_nothing_half_written(tmp_path: Path) -> None:
    def fill(place: Path) -> None:
        place.write_text("half", "utf-8")
        raise OSError(errno.ENOSPC, "No space left on device")

    sentence = (
        f"{tmp_path / 'report.html'} must be a file that can be written, the system reports: "
        "no space left on device; write elsewhere."
    )
    with pytest.raises(InputFault, match=f"^{sentence}$"), OutputFolder(tmp_path, NAMES) as out:
        out.write("report.html", fill)
    assert list(tmp_path.iterdir()) == []


def test_two_runs_do_not_write_to_one_folder(tmp_path: Path) -> None:
    sentence = f"{tmp_path} must be free, another run is writing to it; wait for that or choose another with -o."
    with OutputFolder(tmp_path, NAMES) as first:
        with pytest.raises(InputFault, match=f"^{sentence}$"), OutputFolder(tmp_path, NAMES):
            pass
        first.write("report.html", text("first"))
    with OutputFolder(tmp_path, NAMES) as second:
        second.write("hourly.csv", text("second"))
    assert inside(tmp_path) == {"report.html": "first", "hourly.csv": "second"}


def test_a_file_where_a_folder_is_meant_is_refused(tmp_path: Path) -> None:
    place = tmp_path / "out"
    place.write_text("a file", "utf-8")
    with pytest.raises(InputFault, match=f"^{place} must be a folder, a file is there; choose another with -o.$"):
        OutputFolder(place, NAMES).__enter__()
    below = place / "deeper"
    sentence = f"{below} must be a folder in a folder, a file is in its way; write elsewhere."
    with pytest.raises(InputFault, match=f"^{sentence}$"):
        OutputFolder(below, NAMES).__enter__()
    assert inside(tmp_path) == {"out": "a file"}


def test_a_folder_where_a_file_is_meant_is_refused(tmp_path: Path) -> None:
    place = tmp_path / "report.html"
    place.mkdir()
    sentence = f"{place} must be a file, a folder is there; remove it or write elsewhere."
    with pytest.raises(InputFault, match=f"^{sentence}$"):
        OutputFolder(tmp_path, NAMES).__enter__()
    with pytest.raises(InputFault, match=f"^{sentence}$"):
        write_file(place, text("x"))
    with OutputFolder(tmp_path, ("hourly.csv",)):
        pass  # the refused folder is not left locked


def test_a_read_only_folder_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """By the system's own word, since the superuser may write anywhere."""
    monkeypatch.setattr(os, "access", lambda path, mode: False)
    sentence = f"{tmp_path} must be a folder that can be written to, got a read-only one; choose another."
    with pytest.raises(InputFault, match=f"^{sentence}$"):
        OutputFolder(tmp_path, NAMES).__enter__()


def test_a_file_in_no_folder_is_refused(tmp_path: Path) -> None:
    place = tmp_path / "none" / "x.csv"
    sentence = f"{place} must be in a folder that exists, none is there; make it first."
    with pytest.raises(InputFault, match=f"^{sentence}$"):
        write_file(place, text("x"))


def test_a_written_file_has_the_usual_permissions(tmp_path: Path) -> None:
    """A file written beside its place is private until it is moved; a plain file is what a user expects."""
    (tmp_path / "plain").write_text("x", "utf-8")
    write_file(tmp_path / "ours", text("x"))
    assert (tmp_path / "ours").stat().st_mode == (tmp_path / "plain").stat().st_mode


def test_a_name_as_long_as_a_name_may_be_is_written(tmp_path: Path) -> None:
    """255 bytes, so that the file beside it cannot bear the whole of it."""
    place = tmp_path / f"{'冬' * 83}.csv.x"
    write_file(place, text("x"))
    assert inside(tmp_path) == {place.name: "x"}
