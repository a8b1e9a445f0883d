"""The lock files: every package pinned with hashes, no address named, both sets agreeing."""

import re
from pathlib import Path

import pytest

FOLDER = Path(__file__).resolve().parent.parent.parent / "deploy" / "requirements"
PIN = re.compile(r"^([a-z0-9.-]+)==([^ ;\\]+)( ; [^\\]+)? \\$")


def pins(lock: str) -> dict[tuple[str, str], str]:
    """Package and condition to version."""
    matches = map(PIN.match, (FOLDER / lock).read_text().splitlines())
    return {(match[1], match[3] or ""): match[2] for match in matches if match}


@pytest.mark.parametrize("lock", ["run.lock", "test.lock"])
def test_every_line_of_a_lock_is_a_pin_or_a_hash(lock: str) -> None:
    lines = (FOLDER / lock).read_text().splitlines()
    strange = [line for line in lines if not PIN.match(line) and not line.startswith("    --hash=sha256:")]
    assert strange == []
    assert "://" not in "".join(lines)


def test_the_tests_run_on_the_very_versions_that_are_installed() -> None:
    installed, tested = pins("run.lock"), pins("test.lock")
    assert len(installed) > 40
    assert {key: tested.get(key) for key in installed} == installed


@pytest.mark.parametrize(("wanted", "lock"), [("run.in", "run.lock"), ("test.in", "test.lock")])
def test_every_wanted_package_is_locked(wanted: str, lock: str) -> None:
    lines = (FOLDER / wanted).read_text().splitlines()
    names = {re.split(r"[\[<>=~!]", line)[0] for line in lines if line and line[0] not in "#-"}
    assert names - {name for name, _condition in pins(lock)} == set()
