"""What a row shall reach: the form in which every module of rows names its targets."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True)
class Target:
    """One figure of one row against a limit; ``title`` says what it is to whoever reads the table."""

    title: str
    row: str
    figure: str
    comparison: Literal["<=", ">="]
    limit: float

    def met(self, value: float) -> bool:
        """Whether the value is within the limit; NaN never is."""
        return value <= self.limit if self.comparison == "<=" else value >= self.limit
