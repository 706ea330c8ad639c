"""How many threads the linear algebra beneath numpy may use once the package is imported."""

from __future__ import annotations

import os
import subprocess
import sys

NAME = "OPENBLAS_NUM_THREADS"


def threads_after_import(**said: str) -> str:
    """What a new process finds in its environment after importing the package."""
    clean = {name: value for name, value in os.environ.items() if name != NAME}
    code = f"import bridge, os; print(os.environ[{NAME!r}])"
    run = subprocess.run([sys.executable, "-c", code], env=clean | said, capture_output=True, text=True, check=True)
    return run.stdout.strip()


def test_one_thread_unless_the_user_says_otherwise() -> None:
    """Small arrays get one thread; a number that the user has set stays."""
    assert threads_after_import() == "1"
    assert threads_after_import(**{NAME: "3"}) == "3"
