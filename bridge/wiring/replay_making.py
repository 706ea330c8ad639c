"""A replay of an opened take for the settings in force: what of it is sent, to where, with which sound."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import numpy as np

from bridge import __version__
from bridge.base.clock import WallClock
from bridge.base.errors import UserError
from bridge.base.units import midi_to_hz
from bridge.capture.sound_player import SoundPlayer
from bridge.send.choose import make_outputs
from bridge.send.output import Outputs
from bridge.send.pitch import sent_pitch
from bridge.takes.performed import Hearing
from bridge.takes.replayed import Ground, Reach, replayed
from bridge.takes.sung_from import is_sung_from, sound_digest
from bridge.wiring.notice import Notice
from bridge.wiring.on_harp import quantise_on
from bridge.wiring.opening import OpenedTake
from bridge.wiring.played_notes import played_notes
from bridge.wiring.replaying import Orders, Replay, Sounding
from bridge.wiring.settings import Settings
from bridge.wiring.steady import StopRequest
from bridge.wiring.told_harps import PlayedHarp

#: What stands for the root where no harp is known: middle C.
_ROOT_MIDI = 60
#: So many notes are named one by one.
_MOST_TOLD = 5


def granted(take: OpenedTake) -> Mapping[str, object]:
    """What a replay takes for granted: bends reach as far as when it was played, so that none is cut off."""
    return {"send.midi.bend_range": take.settings.send.midi.bend_range}


def reach_of(take: OpenedTake, from_s: float, to_s: float | None, speed: float, *, loop: bool) -> Reach:
    """What of a take is sent, to the end of its last note where nothing is said. Raises UserError for nothing."""
    if not take.notes:
        raise UserError(f"{take.folder.path} holds no notes, so there is nothing to send.")
    end_s = max(note.end_s for note in take.notes)
    if from_s >= end_s:
        raise UserError(
            f"{take.folder.path} ends at {end_s:.1f} s, so nothing lies from {from_s:g} s on. Begin sooner."
        )
    return Reach(from_s, end_s if to_s is None else to_s, speed, loop)


def sound_of(take: OpenedTake, reach: Reach, output: str, notice: Notice) -> SoundPlayer:
    """The sound of a take that plays along: that of its notes as they are now, if there is one.

    Else it is another, and ``notice`` hears that it differs from the notes and what makes it agree. Raises UserError
    where there is neither, and for a speed other than 1, at which it would be at another pitch.
    """
    if reach.speed != 1.0:
        raise UserError("The sound can only be played at speed 1, as it was recorded. Leave out --sound or --speed.")
    path, agrees = _chosen_sound(take)
    lacks = "without the edits" if path == take.folder.sound else "sung before the last edits"
    differs = f", {lacks}: notes and sound differ. To have it sung to them: reedwire rebuild {take.folder.path}"
    notice(f"The sound is that of {path.name}{'.' if agrees else differs}")
    return SoundPlayer(path, reach.from_s, reach.to_s, loop=reach.loop, output=_as_device(output))


def _chosen_sound(take: OpenedTake) -> tuple[Path, bool]:
    """The sound that is nearest to the notes as they are now, and whether it agrees with them."""
    resung, sound = take.folder.resung, take.folder.sound
    if resung.is_file() and is_sung_from(take.folder, take.notes):
        return resung, True
    if sound.is_file() and sound_digest(take.notes) == sound_digest(played_notes(take)):
        return sound, True
    found = next((path for path in (resung, sound) if path.is_file()), None)
    if found is None:
        raise UserError(f"{take.folder.path} holds no sound (sound.wav). Leave out --sound.")
    return found, False


def replay_words(take: OpenedTake, settings: Settings) -> list[str]:
    """What will be sent, and to where, and what of it no receiver will hear."""
    send = settings.send
    to = [f"MIDI ({send.midi.port})"] if send.midi.port != "none" else []
    to += [f"OSC to {send.osc.to}"] if send.osc.to != "none" else []
    if not to:
        raise UserError("Neither MIDI nor OSC is on, so nothing can be sent. Give --midi PORT or --osc HOST:PORT.")
    lines = [f"{take.folder.path.name}: {', '.join(to)}. q or Ctrl-C ends it."]
    range_cents = 100.0 * send.midi.sent_bend_range
    beyond = [note.id for note in take.notes if np.abs(note.columns[1]).max() > range_cents]
    if beyond and send.midi.port != "none":
        which = ", ".join(map(str, beyond[:_MOST_TOLD])) + (" ..." if len(beyond) > _MOST_TOLD else "")
        lines.append(
            f"Bends beyond {send.midi.sent_bend_range} semitones are cut off in MIDI (notes {which}): more with "
            "--set send.midi.bend_range=12."
        )
    return lines


def root_midi(take: OpenedTake) -> int | None:
    """The note of the root of the harp that the take begins on; None where that is not known."""
    harp = take.harps[0].harp
    return None if harp is None else harp.root_midi


def make_replay(
    take: OpenedTake,
    settings: Settings,
    reach: Reach,
    clock: WallClock,
    stop: StopRequest,
    notice: Notice,
    *,
    orders: Orders,
    sound: Sounding | None = None,
) -> Replay:
    """A replay of the take through the outputs of ``settings``, not yet open."""
    first = take.harps[0].harp
    pitch = sent_pitch(settings.send, first.sharp_cents if first is not None else 0.0)
    outputs = Outputs(
        make_outputs(settings.send, pitch=pitch, program_version=__version__, notice=notice),
        lambda name, error: notice(f"{name} failed: {error}"),
        pitch,
    )
    events = replayed(take.notes, grounds(take), reach)
    return Replay(events, outputs, clock, stop, orders=[orders], sound=sound, notice=notice)


def grounds(take: OpenedTake) -> list[Ground]:
    """What the notes of a take stand on, in order of time."""
    heard = {hearing.since_s: hearing for hearing in take.hearings}
    return [_ground(take, one, heard.get(one.since_s)) for one in take.harps]


def _ground(take: OpenedTake, one: PlayedHarp, heard: Hearing | None) -> Ground:
    """One harp of the take; where it is not known, notes are told over middle C."""
    if one.held is None or one.harp is None:
        floor_db, ceiling_db = take.settings.quantise.breath.marks_db()
        return Ground(one.since_s, _ROOT_MIDI, midi_to_hz(_ROOT_MIDI), floor_db, ceiling_db, None)
    floor_db, ceiling_db = quantise_on(take.settings, one.held).breath.marks_db()
    return Ground(one.since_s, one.harp.root_midi, one.harp.root_hz, floor_db, ceiling_db, heard)


def _as_device(output: str) -> str | int:
    """A number where it is one."""
    return int(output) if output.isdecimal() else output
