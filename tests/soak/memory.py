"""What processes hold in memory, sampled over a long run, and how much more it is at its end.

Source: proc(5), ``VmRSS`` and ``PPid`` of ``/proc/PID/status``, in units of 1024 bytes.
"""

from __future__ import annotations

import statistics
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

#: The part of a run at whose end everything has been used once: caches are full, libraries loaded.
WARM_UP = 0.1
#: Both ends of what is left are judged by the median of such a part of it: one sample alone may catch a passing array.
_END = 0.2


@dataclass
class Growth:
    """Samples (seconds, MB by name), appended to ``path`` as they come, so that a broken run is worth something."""

    path: Path
    samples: list[tuple[float, dict[str, float]]] = field(default_factory=list)

    def add(self, at_s: float, held_mb: Mapping[str, float], **more: float) -> None:
        """Keep one sample; ``more`` only goes into the file."""
        self.samples.append((at_s, dict(held_mb)))
        told = {f"{name} MB": round(mb, 2) for name, mb in held_mb.items()} | more
        with self.path.open("a", encoding="utf-8") as file:
            file.write(f"{at_s:.1f} s: " + ", ".join(f"{name} {value:g}" for name, value in told.items()) + "\n")

    def grown_mb(self, name: str) -> float:
        """How much more the process of that name holds at the end than after the warm-up, in MB.

        Raises ValueError when there are fewer than five samples after the warm-up.
        """
        last_s = self.samples[-1][0]
        held = [mb[name] for at_s, mb in self.samples if at_s >= WARM_UP * last_s and name in mb]
        many = max(1, round(_END * len(held)))
        if len(held) < 5:
            raise ValueError(f"only {len(held)} samples of {name}")
        return statistics.median(held[-many:]) - statistics.median(held[:many])

    @property
    def names(self) -> list[str]:
        """Every process seen in the last sample."""
        return list(self.samples[-1][1])


def held_mb(process: int) -> float:
    """Resident memory of a process in MB (2**20 bytes); 0 when it is gone."""
    with suppress(OSError):
        for line in Path(f"/proc/{process}/status").read_text(encoding="utf-8").splitlines():
            if line.startswith("VmRSS:"):
                return int(line.split()[1]) / 1024.0
    return 0.0


def children(parent: int) -> list[int]:
    """The processes that a process has started and that still run, in the order they were started."""
    found = []
    for status in Path("/proc").glob("[0-9]*/status"):
        with suppress(OSError):
            if f"\nPPid:\t{parent}\n" in status.read_text(encoding="utf-8"):
                found.append(int(status.parent.name))
    return sorted(found)
