"""Whether somebody who is listened to wants it to end: q on the terminal, or a signal such as Ctrl-C."""

from __future__ import annotations

from bridge.base.commands import Stop
from bridge.cli.keys import Keys
from bridge.wiring.steady import StopRequest


class AskedToStop:
    """Called again and again, says whether q was pressed or a signal came; ``by_signal`` tells the two apart."""

    def __init__(self, keys: Keys, request: StopRequest) -> None:
        self._keys = keys
        self._request = request
        self._pressed = False

    @property
    def by_signal(self) -> bool:
        """Whether a signal has asked for the whole command to end."""
        return self._request.wanted

    def __call__(self) -> bool:
        """Whether to end now."""
        self._pressed |= any(isinstance(command, Stop) for command in self._keys.commands())
        return self._pressed or self._request.wanted
