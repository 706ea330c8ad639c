"""``reedwire`` with a fault in the helper that the environment names. Run it as a file: helpers load that as well."""

from __future__ import annotations

import os
from typing import NoReturn

from bridge.capture.microphone import CardStream
from bridge.cli.main import main
from bridge.takes.display_state import DisplayState
from bridge.takes.writer import TakeWriter
from bridge.web.hub import Hub

#: Where in each helper the fault lies.
PLACES = {
    "take": (TakeWriter, "add_sound"),
    "meter": (DisplayState, "take"),
    "board": (Hub, "hear"),
    "card": (CardStream, "find"),
}
CHOICE = "FAULTY_HELPER"


def by_hand(*_: object) -> NoReturn:
    """The fault."""
    raise ZeroDivisionError("by hand")


if CHOICE in os.environ:
    setattr(*PLACES[os.environ[CHOICE]], by_hand)
if __name__ == "__main__":
    main()
