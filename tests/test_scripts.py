"""demo/run, tests/run and .ci/run: what the set-up does on machines that lack this or that.

The steps run in a folder of their own against stand-ins for the system's programs, which write down how they were
called; nothing is installed.
"""

from __future__ import annotations

import os
import shutil
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
_SCRIPTS = ("demo/run", "tests/run", ".ci/run")
_TOOLS = ("bash", "cat", "cp", "cut", "dirname", "grep", "mkdir", "rm", "sha256sum", "printf", "true", "chmod")


class Machine:
    """A checkout on a machine whose programs are stand-ins."""

    def __init__(self, folder: Path) -> None:
        self.checkout = folder / "checkout"
        self._bin = folder / "bin"
        self.calls = folder / "calls"
        for path in (self._bin, self.checkout / "tests"):
            path.mkdir(parents=True)
        for tool in _TOOLS:
            found = shutil.which(tool)
            if found:
                (self._bin / tool).symlink_to(found)
        for name in ("pyproject.toml", "tests/constraints.txt"):
            (self.checkout / name).write_text("x", encoding="utf-8")
        self.calls.touch()
        self.program("id", "echo 1000")
        self.program("dpkg-query", 'echo "install ok installed"')
        self.program("apt-get", "exit 0")
        self.program("python3", _PYTHON)

    def program(self, name: str, does: str) -> None:
        """Put a stand-in on the PATH that notes its call and then ``does`` something."""
        file = self._bin / name
        file.write_text(f'#!/bin/bash\necho "{name} $*" >>"{self.calls}"\n{does}\n', encoding="utf-8")
        file.chmod(0o755)

    def run(self, commands: str, **environment: str) -> subprocess.CompletedProcess[str]:
        """Source the set-up and run ``commands``."""
        return subprocess.run(
            ["bash", "-euo", "pipefail", "-c", f'source "{ROOT}/demo/setup.sh"; {commands}'],
            check=False,
            cwd=self.checkout,
            env={"PATH": str(self._bin), **environment},
            capture_output=True,
            text=True,
            timeout=60,
        )

    @property
    def called(self) -> list[str]:
        """Every call so far, one a line."""
        return self.calls.read_text(encoding="utf-8").splitlines()


#: A Python that is new enough and makes environments; the one it makes notes its calls too.
_PYTHON = """
[ "$1 $2" = "-m venv" ] && mkdir -p .venv/bin && cp "$0" .venv/bin/python
exit 0
"""


@pytest.fixture
def machine(tmp_path: Path) -> Machine:
    """A machine on which everything is there, and its user is not root."""
    return Machine(tmp_path)


@pytest.mark.parametrize("script", [*_SCRIPTS, "demo/setup.sh"])
def test_the_scripts_are_sound_bash(script: str) -> None:
    """Bash parses each of them, and those to be started can be."""
    subprocess.run(["bash", "-n", ROOT / script], check=True)
    assert os.access(ROOT / script, os.X_OK) is (script in _SCRIPTS)


def test_a_python_that_is_too_old_is_passed_over(machine: Machine) -> None:
    """The first Python that is new enough is taken, and without any the message says what is needed."""
    machine.program("python3", '[ "$1" = --version ] && echo Python 3.9.2; exit 1')
    run = machine.run("find_python")
    assert run.returncode == 2
    assert "Python 3.11 or newer is needed; found: Python 3.9.2" in run.stderr
    machine.program("python3.12", "exit 0")
    assert machine.run("find_python").stdout.strip().endswith("/python3.12")


def test_who_is_not_root_gets_the_one_line_to_type(machine: Machine) -> None:
    """Missing packages are named with the command that installs them, and the set-up goes on."""
    machine.program("dpkg-query", '[ "${@: -1}" = ffmpeg ] && echo "install ok installed" || exit 1')
    run = machine.run("need_packages jackd2 ffmpeg fluidsynth; echo went on")
    assert "sudo apt-get install jackd2 fluidsynth" in run.stderr
    assert run.stdout == "went on\n"
    assert not any(call.startswith("apt-get") for call in machine.called)


def test_root_installs_what_is_missing_and_only_that(machine: Machine) -> None:
    """As root the missing packages are installed after one update; with none missing apt is not even asked."""
    machine.program("id", "echo 0")
    machine.run("need_packages jackd2")
    assert not any(call.startswith("apt-get") for call in machine.called)
    machine.program("dpkg-query", "exit 1")
    machine.run("need_packages jackd2 ffmpeg")
    asked = [call for call in machine.called if call.startswith("apt-get")]
    assert asked[0].startswith("apt-get update")
    assert asked[1].endswith("jackd2 ffmpeg")
    assert len(asked) == 2


def test_a_package_that_cannot_be_had_does_not_stop_the_set_up(machine: Machine) -> None:
    """When apt fails the user is told, and the set-up goes on."""
    machine.program("id", "echo 0")
    machine.program("dpkg-query", "exit 1")
    machine.program("apt-get", "exit 100")
    run = machine.run("need_packages jackd2; echo went on")
    assert run.stdout == "went on\n"
    assert "could not install" in run.stderr


def test_the_second_time_nothing_is_installed(machine: Machine) -> None:
    """Once set up, another start calls pip for nothing; a changed pyproject.toml is installed again."""
    installs = []
    for change in ("x", "x", "y"):
        (machine.checkout / "pyproject.toml").write_text(change, encoding="utf-8")
        run = machine.run("set_up demo libportaudio2")
        assert run.returncode == 0, run.stderr
        installs.append(sum("pip install" in call for call in machine.called))
    assert installs == [1, 1, 2]


def test_the_versions_are_pinned_and_an_unpinned_try_is_never_made_for_the_server(machine: Machine) -> None:
    """Pip gets the constraints file; when that fails a user gets the newest versions, the server an error."""
    machine.program("python3", _PYTHON.replace("exit 0", '[[ "$*" == *constraints.txt* ]] && exit 1\nexit 0'))
    run = machine.run("set_up test", REQUIRE_ALL="1")
    assert run.returncode == 2
    assert "pinned versions could not be installed" in run.stderr
    assert sum("pip install" in call for call in machine.called) == 1
    run = machine.run("set_up test")
    assert run.returncode == 0
    assert "do not fit this machine" in run.stderr
    assert machine.called[-1].endswith("-e .[test]")
    machine.run("set_up demo")
    assert machine.called[-1].endswith("-e .[resing]")


def test_without_the_venv_package_pip_makes_the_environment(machine: Machine) -> None:
    """Where Debian's python3-venv is missing, the machine's own pip fills an environment made without it."""
    no_ensurepip = '[ "$1 $2" = "-c import ensurepip" ] && exit 1\n'
    machine.program("python3", no_ensurepip + _PYTHON)
    run = machine.run("set_up demo")
    assert run.returncode == 0, run.stderr
    assert "python3 -m venv --without-pip .venv" in machine.called
    assert "python3 -m pip --python .venv/bin/python install -q pip" in machine.called


def test_without_any_way_to_an_environment_the_user_is_told(machine: Machine) -> None:
    """When neither way works, the message names the package to install."""
    machine.program("python3", '[[ "$*" == *version_info* ]] && exit 0; exit 1')
    run = machine.run("set_up demo")
    assert run.returncode == 2
    assert "apt-get install python3-venv" in run.stderr
