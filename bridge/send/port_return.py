"""Which port of those that are there is the one that went away."""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence

from bridge.send.midi_system import CLIENT_NAME, matching

#: ALSA's numbers at the end of a name, which change when a device is plugged in again (rtmidi: "client:port 20:0").
_NUMBERS = re.compile(r" \d+:\d+$")


def returned(wanted: str, full_name: str, names: Sequence[str]) -> str | None:
    """The name of the port that went away, if one of ``names`` is it for sure.

    It is called ``full_name`` as before, but for numbers if need be; or it is the only one that ``wanted`` fits, and
    not by numbers alone, which may have gone over to another device.
    """
    plain = _NUMBERS.sub("", full_name)
    for fitting in (
        [name for name in names if name == full_name],
        [name for name in names if _NUMBERS.sub("", name) == plain],
        _fitting(wanted, names),
    ):
        if len(fitting) == 1:
            return fitting[0]
    return None


def puzzle(wanted: str, names: Sequence[str], before: Collection[str]) -> str:
    """What keeps a port from being taken up again, and what to do, in one line; empty when it is only away.

    ``before`` are the names that were there with it.
    """
    several = _fitting(wanted, names)
    if several:
        return f"Several MIDI ports fit {wanted!r} now: {_listing(several)}. Unplug the others, or begin anew with one."
    new = [name for name in names if name not in before and not name.startswith(CLIENT_NAME)]
    if new:
        unsure = "nothing says that it is the one that went away. If you mean it, begin anew."
        return f"There is a new MIDI port, {_listing(new)}; {unsure}"
    return ""


def _fitting(wanted: str, names: Sequence[str]) -> list[str]:
    """The names that ``wanted`` fits by more than their numbers."""
    fitting = matching(wanted, list(names))
    return [name for name in fitting if name == wanted or wanted.lower() in _NUMBERS.sub("", name).lower()]


def _listing(names: Sequence[str]) -> str:
    return ", ".join(map(repr, names))
