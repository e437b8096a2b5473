"""Blocks of the odds on disk: what is kept is what is read, and whatever a block depends on gives it another place."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from sample_vans import one_room
from small_tour import small

from budget.answers.blocks import Blocks, _fold
from budget.answers.ensemble import Ensemble, Kept, ensemble
from budget.errors import InputFault
from budget.whole_file import MARK


@dataclass(frozen=True)
class Pair:
    first: Any
    second: Any


def told(value: Any) -> str:
    digest = hashlib.sha256()
    _fold(digest, value)
    return digest.hexdigest()


ROOM = one_room()
VALUES = [
    None, 1, 1.5, "a", ["a", "b"], ["b", "a"], {"a": 1, "b": 2}, {"a": 2, "b": 1}, {"a": 1, "c": 2}, np.arange(4),
    np.arange(4.0), np.arange(4).reshape(2, 2), np.array([0, 1, 2, 4]), Pair(1, 2), Pair(2, 1), Pair([1], {"x": 2}),
    Pair(np.zeros(2), np.ones(2)), ROOM, ROOM.model_copy(update={"title": "another"}),
]  # fmt: skip


def test_every_difference_is_seen_and_an_order_of_names_is_none() -> None:
    assert len({told(value) for value in VALUES}) == len(VALUES)
    assert [told(value) for value in VALUES] == [told(value) for value in VALUES]
    assert told({"b": 2, "a": 1}) == told({"a": 1, "b": 2})
    assert told(np.arange(8)[::2]) == told(np.array([0, 2, 4, 6]))
    assert told((1, 2)) == told([1, 2])


def block(fill: float) -> Kept:
    return Kept(**{name: np.full((2, 3), fill + k) for k, name in enumerate(Kept.__dataclass_fields__)})


def test_a_block_that_is_kept_is_read_to_the_bit_and_another_is_not_there(tmp_path: Path) -> None:
    blocks = Blocks(tmp_path)
    blocks.keep(50, block(0.1))
    blocks.keep(100, block(7.3))
    for first, fill in ((50, 0.1), (100, 7.3)):
        read = blocks.read(first)
        assert read is not None
        for name in Kept.__dataclass_fields__:
            assert np.array_equal(getattr(read, name), getattr(block(fill), name)), name
    assert blocks.read(0) is None
    assert sorted(path.name for path in tmp_path.iterdir()) == ["000050.npz", "000100.npz"]
    blocks.keep(50, block(2.0))
    again = blocks.read(50)
    assert again is not None
    assert float(next(iter(vars(again).values()))[0, 0]) == 2.0


def test_a_block_is_written_beside_its_place_and_moved_there_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """So that it is moved within one file system; what broke off on the way leaves nothing."""
    write, seen = np.savez, []

    def watched(file: Any, **parts: Any) -> None:
        write(file, **parts)
        seen.extend(path.name for path in tmp_path.iterdir())
        if len(seen) > 1:
            raise OSError(28, "No space left on device")

    monkeypatch.setattr(np, "savez", watched)
    Blocks(tmp_path).keep(50, block(1.0))
    assert len(seen) == 1
    assert seen[0].startswith(f"{MARK}000050.npz.")
    with pytest.raises(InputFault, match="no space left on device; choose another"):
        Blocks(tmp_path).keep(100, block(1.0))
    assert [path.name for path in tmp_path.iterdir()] == ["000050.npz"]


@pytest.mark.parametrize("content", [b"", b"PK\x03\x04 not a block", b"x" * 400])
def test_a_block_that_cannot_be_read_is_as_good_as_none(content: bytes, tmp_path: Path) -> None:
    (tmp_path / "000000.npz").write_bytes(content)
    assert Blocks(tmp_path).read(0) is None
    with open(tmp_path / "000050.npz", "wb") as file:
        np.savez(file, something=np.zeros(3))
    assert Blocks(tmp_path).read(50) is None


def test_another_seed_number_or_van_has_a_place_of_its_own(tmp_path: Path) -> None:
    prepared = small(1)

    def draft(count: int, seed: int) -> Ensemble:
        return ensemble(prepared, count, seed, weather=False)

    one = draft(50, 1)
    places = [Blocks.of(draft(50, 1), tmp_path).folder, Blocks.of(one, tmp_path).folder]
    assert places[0] == places[1]
    assert places[0].is_dir()
    assert places[0].parent == tmp_path
    others = [draft(50, 2), draft(100, 1)]
    warm = prepared.van.model_copy(update={"title": "another"})
    others.append(replace(one, prepared=replace(one.prepared, van=warm)))
    others.append(replace(one, taken=replace(one.prepared, van=warm)))
    assert len({Blocks.of(other, tmp_path).folder for other in others} | {places[0]}) == 5


def test_a_folder_that_cannot_keep_blocks_is_said_in_a_sentence(tmp_path: Path) -> None:
    file = tmp_path / "file"
    file.write_text("")
    with pytest.raises(InputFault) as fault:
        Blocks(file).keep(0, block(1.0))
    assert fault.value.faults == (
        f"{file} must be a folder that blocks can be kept in, the system reports: not a directory; choose another.",
    )
