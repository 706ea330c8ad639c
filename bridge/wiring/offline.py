"""From a recording to a take folder, as fast as it goes."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path

from bridge.base.errors import SoundError, UserError
from bridge.base.events import Event
from bridge.base.printable import printable
from bridge.capture.sound_file import SoundFile
from bridge.send.pitch import SentPitch, sent_pitch
from bridge.takes.building import Building, built_aside, clear_stopped
from bridge.takes.tempo_choice import KnownTempo
from bridge.takes.writer import TakeWriter
from bridge.wiring.chain import Chain
from bridge.wiring.harps import HeldHarp
from bridge.wiring.notice import Notice
from bridge.wiring.settings import Settings
from bridge.wiring.steady import steady_engine
from bridge.wiring.take_making import open_take

#: One block: long enough that the follower works on many hops at once, short enough for a lively progress bar.
_BLOCK_S = 0.5

#: Nobody's synth has to be pleased by a file that states its own bend range (RPN 0): an octave each way lets the
#: deepest bend stay one note. A preset or ``--set`` of the user's wins.
GRANTED = {"send.midi.bend_range": 12}


@dataclass(frozen=True, slots=True)
class TranscribeReport:
    """What came of a recording: notes, its length in seconds, the harp it was heard as, and where the take lies.

    ``left_out`` is what was no playing: start and end in seconds, and what it was taken for; ``tempo`` is None where
    none is known.
    """

    notes: int
    seconds: float
    harp: str
    folder: Path
    left_out: tuple[tuple[float, float, str], ...] = ()
    tempo: KnownTempo | None = None


def transcribe_file(
    path: Path,
    out: Path,
    settings: Settings,
    progress: Callable[[float], None] = lambda _: None,
    watch: Callable[[Event], object] = lambda _: None,
    notice: Notice = lambda _: None,
) -> TranscribeReport:
    """Write the take of the recording ``path`` into a new folder in ``out``, named after the file.

    ``progress`` is told the part done, 0..1, ``watch`` every event. The take is made out of sight and there at once:
    whatever stops it, Ctrl-C too, half of one is never seen. ``notice`` hears when one that was stopped earlier is
    taken away. Raises SoundError for a recording that cannot be used and UserError for a folder that cannot be written;
    nothing is left for either. What could be read of a damaged recording is kept, and the error says where.
    """
    rate = settings.capture.rate_hz
    name = printable(path.stem)
    with SoundFile(path, rate, round(_BLOCK_S * rate)) as source:
        clear_stopped(out, notice)
        try:
            with built_aside(out, name) as building:
                return _transcribe(source, building, settings, progress, watch)
        except OSError as error:
            raise UserError(f"{out / name} cannot be written ({error.strerror}). Choose another folder.") from error


def told_length_s(path: Path) -> float | None:
    """How long the recording says that it is, seconds; None where it does not, or cannot be read."""
    try:
        with SoundFile(path) as source:
            return source.length_s
    except SoundError:
        return None


def _transcribe(
    source: SoundFile,
    building: Building,
    settings: Settings,
    progress: Callable[[float], None],
    watch: Callable[[Event], object],
) -> TranscribeReport:
    unhurried = settings.model_copy(update={"quantise": settings.quantise.unhurried()})
    chain = Chain(unhurried, source.rate, look_ahead=True)
    pitch = sent_pitch(settings.send, chain.harp.sharp_cents)
    take = open_take(settings, chain.held, source.name, building.folder, pitch, rate=source.rate)
    with ExitStack() as stopped:
        # What is stopped goes with its folder: nobody need wait until its files are derived.
        stopped.callback(take.give_up)
        chain.add_watcher(take.add)
        chain.add_watcher(watch)
        chain.add_harp_hearer(lambda held: _go_on_with(held, take, pitch))
        with steady_engine(lambda _: None, live=False):
            damage = _hear_all(source, chain, take, progress)
        chain.finish()
        take.leave_out(chain.left_out)
        if damage is not None and chain.notes == 0:
            raise damage
        if damage is None:
            source.require_sound()
        take.finish()
    place = building.put_in_place().path
    if damage is not None:
        raise UserError(f"{damage}. What could be read lies in {place}.") from damage
    progress(1.0)
    return TranscribeReport(chain.notes, chain.now_s, chain.held.name, place, tuple(chain.left_out), take.tempo)


def _go_on_with(held: HeldHarp, take: TakeWriter, pitch: SentPitch) -> None:
    """From the next note on the take is on another harp, or on the same one tuned anew."""
    pitch.tune_to(held.harp.sharp_cents)
    take.use_harp(held.harp, held.facts())


def _hear_all(
    source: SoundFile, chain: Chain, take: TakeWriter, progress: Callable[[float], None]
) -> SoundError | None:
    """Feed the whole recording to the chain and keep its sound; what is wrong with it, if anything."""
    try:
        while (block := source.read(0.0)) is not None:
            chain.feed(block)
            take.add_sound(block)
            if source.length_s:
                progress(min(1.0, chain.now_s / source.length_s))
    except SoundError as error:
        return error
    return None
