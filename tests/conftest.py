"""What holds for every test: no test touches the real home folder, and none is judged by the clock."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

settings.register_profile("project", deadline=None, database=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("project")

XDG_FOLDERS = ("CACHE", "CONFIG", "DATA", "STATE")


@pytest.fixture(autouse=True)
def empty_home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Give the test an empty home folder of its own, and drop what the caller's environment sets.

    That is what it says of the project and of the language.
    """
    home = tmp_path / "home"
    home.mkdir()
    monkeypatch.setenv("HOME", str(home))
    for folder in XDG_FOLDERS:
        monkeypatch.setenv(f"XDG_{folder}_HOME", str(home / f".{folder.lower()}"))
    monkeypatch.setenv("LANG", "C.UTF-8")
    for name in ("LC_ALL", "LC_CTYPE"):
        monkeypatch.delenv(name, raising=False)
    for name in ("RULES", "SETTINGS", "STORE"):
        monkeypatch.delenv(f"DIAGNOSE_{name}", raising=False)
    return home
