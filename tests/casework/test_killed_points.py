"""A slice of the points at which a program is killed, and a disk that is full when a copy is made."""

from __future__ import annotations

from pathlib import Path

import pytest

from diagnose.casework.store import SqliteStore
from tests.casework.killed_points import run
from tests.casework.test_store_processes import a_case, lines_of, posix_only, working


def test_killed_at_points_drawn_by_lot_the_store_keeps_its_promise(tmp_path: Path) -> None:
    """Adding, opening, noting, taking and copying, killed at 16 points; 500 are run by hand."""
    counts = run(16, 7, tmp_path)
    assert sum(counts[what] for what in counts if "anything" not in what and "something" not in what) == 16


@posix_only
@pytest.mark.parametrize("room", [0, 4_096, 33_000, 40_000])
def test_a_disk_that_is_full_when_a_copy_is_made_leaves_no_half_copy(tmp_path: Path, room: int) -> None:
    """It is said, nothing is left in the copy's place, and the store is as it was; with room the copy is made."""
    path, target = tmp_path / "cases.sqlite3", tmp_path / "copies" / "monday.sqlite3"
    case_id = a_case(path)
    with working("copy_until_full", path, target, room) as process:
        (told,) = lines_of(process)
    assert told in {"store.full", "store.disk"}
    assert not target.parent.exists() or list(target.parent.iterdir()) == []
    with SqliteStore(path) as store:
        assert len(store.events(case_id)) == 1
        assert store.back_up(target) == target.stat().st_size
