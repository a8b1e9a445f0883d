"""What the tests need of the operating system: installed when possible, named when not."""

import os
import shutil
from pathlib import Path

import pytest

from deploy.launch import packages
from deploy.launch.checks import shortened
from deploy.launch.console import Stop


def test_without_the_right_to_install_the_missing_packages_are_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(packages, "located", lambda program: None if program == "chromium" else Path(program))
    monkeypatch.setattr(os, "geteuid", lambda: 1000)
    monkeypatch.setattr(packages, "may_sudo", lambda: False)
    with pytest.raises(Stop) as stop:
        packages.prepare_packages()
    assert stop.value.sentence == "The tests need these packages: apt-get install chromium"


def test_nothing_is_installed_when_everything_is_there(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(packages, "located", Path)
    monkeypatch.setattr(packages.subprocess, "run", lambda *_a, **_k: pytest.fail("something was installed"))
    packages.prepare_packages()


def test_the_newest_of_several_postgresql_versions_is_taken(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    for version in ("9", "15", "13"):
        place = tmp_path / version / "bin"
        place.mkdir(parents=True)
        (place / "initdb").touch()
    monkeypatch.setattr(packages, "DEBIAN_POSTGRES", tmp_path)
    monkeypatch.setattr(shutil, "which", lambda _program: None)
    assert packages.located("initdb") == tmp_path / "15" / "bin" / "initdb"


def test_a_long_complaint_is_cut_and_says_by_how_much() -> None:
    lines = shortened("\n".join(f"fault {number}" for number in range(200))).splitlines()
    assert (len(lines), lines[-1]) == (121, "… and 80 lines more")
