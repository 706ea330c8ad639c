"""Which port of those that are there is the one that went away."""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence

from bridge.send.midi_system import CLIENT_NAME, matching

#: ALSA's numbers at the end of a name, which change when a device is plugged in again (rtmidi: "client:port 20:0").
_NUMBERS = re.compile(r" \d+:\d+$")


def returned(wanted: str, full_name: str, names: Sequence[str]) -> str | None:
    """The name of the port that went away, if one of ``names`` is it for sure.

    It is the only one that ``wanted`` fits; or it is called ``full_name`` as before, but for numbers if need be.
    """
    plain = _NUMBERS.sub("", full_name)
    for fitting in (
        matching(wanted, list(names)),
        [name for name in names if name == full_name],
        [name for name in names if _NUMBERS.sub("", name) == plain],
    ):
        if len(fitting) == 1:
            return fitting[0]
    return None


def puzzle(wanted: str, names: Sequence[str], before: Collection[str]) -> str:
    """What keeps a port from being taken up again, and what to do, in one line; empty when it is only away.

    ``before`` are the names that were there with it.
    """
    several = matching(wanted, list(names))
    if several:
        return f"Several MIDI ports fit {wanted!r} now: {_listing(several)}. Unplug the others, or begin anew with one."
    new = [name for name in names if name not in before and not name.startswith(CLIENT_NAME)]
    if new:
        return f"There is a new MIDI port, {_listing(new)}, which {wanted!r} does not fit. If you mean it, begin anew."
    return ""


def _listing(names: Sequence[str]) -> str:
    return ", ".join(map(repr, names))
