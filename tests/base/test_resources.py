"""``config/`` and ``shared/`` are found in a checkout and in a wheel that was really built."""

from __future__ import annotations

import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from bridge.base.errors import UserError
from bridge.base.resources import resource, resource_folder

ROOT = Path(__file__).resolve().parents[2]
_FILES = (("config", "default.yaml"), ("config", "stage.yaml"), ("shared", "take-format.md"), ("shared", "messages.md"))


def test_a_checkout_has_them_beside_the_package() -> None:
    """Here they are the folders at the top."""
    assert resource_folder("config") == ROOT / "config"
    for folder, name in _FILES:
        assert resource(folder, name) == ROOT / folder / name


def test_a_missing_file_or_folder_is_told_with_what_there_is() -> None:
    """A wrong name is answered with the names there are."""
    with pytest.raises(UserError, match=r"config/none\.yaml does not exist\. There is: .*default\.yaml"):
        resource("config", "none.yaml")
    with pytest.raises(UserError, match="Install reedwire again"):
        resource_folder("attic")


@pytest.fixture(scope="module")
def installed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The unpacked content of a wheel built from this checkout."""
    folder = tmp_path_factory.mktemp("wheel")
    build = ["pip", "wheel", "--quiet", "--no-deps", "--no-build-isolation", "--wheel-dir", str(folder), str(ROOT)]
    subprocess.run([sys.executable, "-m", *build], check=True, timeout=120)
    (wheel,) = folder.glob("reedwire-*.whl")
    zipfile.ZipFile(wheel).extractall(folder / "site")
    return folder / "site"


def test_an_installed_wheel_finds_its_own(installed: Path, tmp_path: Path) -> None:
    """A program that has only the wheel finds every file inside the package."""
    program = "import sys, bridge\nfrom bridge.base.resources import resource\nprint(bridge.__file__)\n" + "\n".join(
        f"print(resource({folder!r}, {name!r}))" for folder, name in _FILES
    )
    run = subprocess.run(
        [sys.executable, "-c", program],
        cwd=tmp_path,
        env={"PYTHONPATH": str(installed)},
        capture_output=True,
        text=True,
        check=True,
        timeout=60,
    )
    package, *paths = map(Path, run.stdout.splitlines())
    assert package == installed / "bridge" / "__init__.py"
    assert paths == [installed / "bridge" / "_data" / folder / name for folder, name in _FILES]


def test_a_wheel_carries_what_its_users_need(installed: Path) -> None:
    """The wheel is marked as typed, names its command and carries the licence, but no tests."""
    assert (installed / "bridge" / "py.typed").is_file()
    (facts,) = installed.glob("reedwire-*.dist-info")
    assert "reedwire = bridge.cli.main:main" in (facts / "entry_points.txt").read_text(encoding="utf-8")
    assert "GNU GENERAL PUBLIC LICENSE" in (facts / "licenses" / "LICENSE").read_text(encoding="utf-8")
    assert not (installed / "tests").exists()
