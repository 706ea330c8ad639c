"""How the performer is told something in one line."""

from __future__ import annotations

from collections.abc import Callable

Notice = Callable[[str], None]
