"""What a sound check tells to change: each by its own cause, with settings that load, the most important first."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from bridge.cli.check_changes import changes
from bridge.follow.hum import Hum
from bridge.follow.loudspeaker import LoudspeakerReturn
from bridge.follow.room_noise import LearnedRoom
from bridge.follow.suppression import Suppression
from bridge.wiring.settings import load_settings
from bridge.wiring.sound_check import Checked
from cli.checked_pages import PLAYED, checked, timing

SILENT = replace(PLAYED, seconds=0.0, notes=(), begun=0, begins_s=0.0)
DEAD = LearnedRoom(5.0, -120.0, -120.0, 0.0, 0.0)
NOISY = LearnedRoom(5.0, -45.0, -42.0, 0.0, 0.0)
QUIET = LearnedRoom(5.0, -90.0, -85.0, 0.0, 0.0)
ROOM_55 = LearnedRoom(5.0, -58.0, -55.0, 0.0, 0.0)
LOUD = (LoudspeakerReturn(0.0155, -12.0, 50.0, clipped=False), -46.0)
SOFT = (LoudspeakerReturn(0.0155, -30.0, 50.0, clipped=False), -46.0)
FAINT = (LoudspeakerReturn(0.0155, -50.0, 50.0, clipped=False), -46.0)
CUT = (LoudspeakerReturn(0.0155, -30.0, 50.0, clipped=True), -46.0)

#: What was found, in order of importance, and what is said of it.
CAUSES: list[tuple[str, Checked, str]] = [
    ("dead", checked(room=DEAD, played=SILENT), "Nothing but silence comes from the microphone: check its switch"),
    ("unheard", checked(played=SILENT), "Nothing was heard of a harp: play nearer"),
    ("clipped", checked(played=replace(PLAYED, clipped=7)), "Turn the input down by 10 dB and check again"),
    (
        "gated",
        checked(played=replace(PLAYED, suppression=Suppression(dead_pauses=3))),
        "microphone: between notes there is no sound at all",
    ),
    (
        "dead room",
        checked(room=DEAD, played=replace(PLAYED, suppression=Suppression(dead_room=True))),
        "before you played there was no sound at all",
    ),
    ("hushed", checked(played=replace(PLAYED, suppression=Suppression(fallen_db=21.3))), "is 21 dB more silent"),
    ("fading", checked(played=replace(PLAYED, suppression=Suppression(fading=3))), "all 3 long notes fade"),
    ("lost", checked(lost=128), "Sound was lost, the machine was too busy: close"),
    ("soft", checked(room=QUIET, played=replace(PLAYED, soft_db=-58.0, peak_db=-30.0)), "Turn the input up by 4 dB"),
    ("drowned", checked(room=NOISY, played=replace(PLAYED, soft_db=-31.0)), "quieten the room, for 4 dB: soft notes"),
    ("loud room", checked(room=NOISY, played=None), "or quieten the room: its noise leaves no place for soft notes"),
    ("hum", checked(hum=Hum(50, -55.0)), "Find the 50 Hz hum, 35 dB under the harp: try another socket"),
    (
        "open gate",
        checked("follow.gate.close_db=-60", room=ROOM_55),
        f"Set the gate, or the room holds notes: --set follow.gate.open_db={ROOM_55.open_db}",
    ),
    ("speaker", checked(loudspeaker=LOUD), "Use headphones, or turn the loudspeaker down by 8 dB."),
    ("guard", checked(loudspeaker=SOFT), "keep the synth from holding notes: --set quantise.bleed.guard=true"),
    ("speaker cut", checked(loudspeaker=CUT), "Turn the loudspeaker down: it overloads the microphone."),
    (
        "bunch",
        checked(timing=timing(bunch=8)),
        "Set the sound system's period (or buffer) to 128 samples: it gives 1024 at once, which is 21.3 ms.",
    ),
    ("uneven", checked(timing=timing(late_s=0.006)), "Mend the timing: the card calls up to"),
    (
        "busy",
        checked(timing=timing(work_s=0.0024)),
        "hardly time to spare: close other programs, or take longer blocks: --set capture.block=256",
    ),
    ("no room above", checked(played=replace(PLAYED, peak_db=-0.4)), "Turn the input down by 6 dB: hard notes leave"),
    (
        "high gate",
        checked("follow.gate.open_db=-35"),
        "Set the gate, for softer notes: --set follow.gate.open_db=-50.0",
    ),
    (
        "breath",
        checked(played=replace(PLAYED, hard_db=-28.0, soft_db=-40.0)),
        "hard playing reaches 51 % of it: --set quantise.breath.ceiling_db=-25",
    ),
    (
        "long block",
        checked("capture.block=1024", timing=timing(block_s=1024 / 48000)),
        "Take shorter blocks, since one lasts 21.3 ms: --set capture.block=128",
    ),
    ("refused", checked(notices=("No real-time priority: the system refused it.",)), "No real-time priority"),
]


def test_where_all_is_well_nothing_is_changed() -> None:
    """Also when the loudspeaker comes back so faintly that it does not matter, or nobody was asked to play."""
    assert changes(checked()) == []
    assert changes(checked(loudspeaker=FAINT, hum=Hum(50, -65.0))) == []
    assert changes(checked(played=None)) == []
    # A gate that is higher than it need be, and soft notes 9 dB above it.
    assert changes(checked("follow.gate.open_db=-40")) == []


@pytest.mark.parametrize(("found", "said"), [case[1:] for case in CAUSES], ids=[case[0] for case in CAUSES])
def test_each_cause_has_its_cure(found: Checked, said: str) -> None:
    """One line says it, and every setting in it loads."""
    told = changes(found)
    assert any(said in line for line in told), told
    for line in told:
        load_settings(sets=re.findall(r"--set (\S+)", line))


@pytest.mark.parametrize("name", ["clipped", "lost", "uneven", "bunch", "hum", "no room above"])
def test_a_cause_alone_is_told_alone(name: str) -> None:
    """Nothing else is said of a check in which all else is well."""
    assert len(changes(next(found for each, found, _ in CAUSES if each == name))) == 1


def test_the_most_important_comes_first() -> None:
    """An overloaded input spoils everything, lost sound much, a gate too high only soft notes."""
    told = changes(
        checked("follow.gate.open_db=-35", lost=1, hum=Hum(60, -40.0), played=replace(PLAYED, clipped=2, hard_db=-30.0))
    )
    order = ("Turn the input down", "Sound was lost", "Find the 60 Hz", "Give the breath", "Set the gate")
    assert [next(line for line in order if text.startswith(line)) for text in told] == list(order)


def test_a_guard_that_is_on_is_not_told_of() -> None:
    """Nor is a breath that is constant anyway."""
    assert changes(checked("quantise.bleed.guard=true", loudspeaker=SOFT)) == []
    assert changes(checked("quantise.breath.constant=0.8", played=replace(PLAYED, hard_db=-28.0, soft_db=-40.0))) == []
