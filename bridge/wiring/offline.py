"""From a recording to a take folder, as fast as it goes."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from bridge.base.errors import SoundError, UserError
from bridge.base.events import Event
from bridge.base.printable import printable
from bridge.capture.sound_file import SoundFile
from bridge.send.pitch import SentPitch, sent_pitch
from bridge.takes.folder import TakeFolder, new_take
from bridge.takes.tempo_choice import KnownTempo
from bridge.takes.writer import TakeWriter
from bridge.wiring.chain import Chain
from bridge.wiring.harps import HeldHarp
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
) -> TranscribeReport:
    """Write the take of the recording ``path`` into a new folder in ``out``, named after the file.

    ``progress`` is told the part done, 0..1, ``watch`` every event. Raises SoundError for a recording that cannot be
    used and UserError for a folder that cannot be written; a folder begun for either, or before Ctrl-C, is taken away
    again, and no other is ever touched. What could be read of a damaged recording is kept, and the error says where.
    """
    rate = settings.capture.rate_hz
    with SoundFile(path, rate, round(_BLOCK_S * rate)) as source:
        folder = new_take(out, printable(path.stem))
        try:
            return _transcribe(source, folder, settings, progress, watch)
        except _BrokenOffError as damaged:
            raise UserError(f"{damaged.error}. What could be read lies in {folder.path}.") from damaged.error
        except OSError as error:
            shutil.rmtree(folder.path, ignore_errors=True)
            raise UserError(f"{folder.path} cannot be written ({error.strerror}). Choose another folder.") from error
        except BaseException:
            # Ctrl-C and faults of our own included: half a take would look like a whole one.
            shutil.rmtree(folder.path, ignore_errors=True)
            raise


class _BrokenOffError(Exception):
    """A recording broke off after some notes, which are kept."""

    def __init__(self, error: SoundError) -> None:
        self.error = error
        super().__init__(str(error))


def _transcribe(
    source: SoundFile,
    folder: TakeFolder,
    settings: Settings,
    progress: Callable[[float], None],
    watch: Callable[[Event], object],
) -> TranscribeReport:
    unhurried = settings.model_copy(update={"quantise": settings.quantise.unhurried()})
    chain = Chain(unhurried, source.rate, look_ahead=True)
    pitch = sent_pitch(settings.send, chain.harp.sharp_cents)
    with open_take(settings, chain.held, source.name, folder, pitch, rate=source.rate) as take:
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
    if damage is not None:
        raise _BrokenOffError(damage)
    progress(1.0)
    return TranscribeReport(chain.notes, chain.now_s, chain.held.name, folder.path, tuple(chain.left_out), take.tempo)


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
