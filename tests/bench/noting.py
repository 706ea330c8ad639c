"""Note Ons against the notes that were played.

A Note On belongs to a note when it was ready from 10 ms before its attack to 50 ms after it (the usual tolerance of
mir_eval.transcription, whose maximal matching decides which belongs to which). It is right when its MIDI note is the
slot of a pitch that the note truly had between its attack and 20 ms after that instant (a note may be taken for where
it is heading, if it gets there before anyone can hear it), 5 cents either way. Recorded reeds scoop up
to their pitch; what they do before their truth is known is only bounded (from 150 cents below), so a Note On taken on
the way up is right at its instant, but counted as ``scooped`` when it is not the slot the player meant. The bend range
is an octave, so that glides never need a second note.

Delays are those of all notes played: one found later than that counts as missing with the delay it had, one never found
as infinitely late.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from mir_eval import transcription

from bench.cases import Case
from bridge.base.events import Event, NoteOn, PitchFrame
from bridge.base.units import SILENCE_DB, cents_between
from bridge.quantise.hearing import Hearing
from bridge.quantise.quantiser import Quantiser
from bridge.quantise.scales import find_scale
from bridge.quantise.settings import QuantiseSettings
from sounds.known import TruthNote

NAN = float("nan")
_EARLY_S, _LATE_S = 0.010, 0.050
_BEND_RANGE_CENTS = 1200.0
_BORDER_CENTS = 5.0
#: How far below its first known pitch a recorded reed may begin, cents.
SCOOP_CENTS = 150.0
_UNKNOWN_S = 0.010
#: A pitch reached this soon after the Note On counts as that of the Note On.
_SOON_S = 0.020


@dataclass(frozen=True)
class NoteFigures:
    """Counts of notes, and ``delays_ms`` from attack to Note On, one for each note played, infinite without any.

    ``wrong`` are those found at another slot or octave than the pitch had then, ``scooped`` those right then but not
    what was meant.
    """

    played: int = 0
    missing: int = 0
    extra: int = 0
    wrong: int = 0
    scooped: int = 0
    delays_ms: tuple[float, ...] = field(default=(), repr=False)

    def __add__(self, other: NoteFigures) -> NoteFigures:
        return NoteFigures(
            self.played + other.played,
            self.missing + other.missing,
            self.extra + other.extra,
            self.wrong + other.wrong,
            self.scooped + other.scooped,
            self.delays_ms + other.delays_ms,
        )

    @property
    def wrong_percent(self) -> float:
        """Missing, extra and wrong Note Ons in percent of the notes played."""
        return self.percent(self.missing + self.extra + self.wrong)

    @property
    def wrong_or_scooped_percent(self) -> float:
        """The same with the scooped ones added."""
        return self.percent(self.missing + self.extra + self.wrong + self.scooped)

    def percent(self, count: int) -> float:
        """A count in percent of the notes played; NaN when none was."""
        return 100.0 * count / self.played if self.played else NAN

    def delay_ms(self, share: float) -> float:
        """Order statistic of the delays of all notes played."""
        return float(np.quantile(self.delays_ms, share, method="higher")) if self.delays_ms else NAN


def quantiser(case: Case) -> Quantiser:
    """The quantiser for the harp of a case."""
    settings = QuantiseSettings()
    return Quantiser(
        find_scale(settings.scale, settings.scales),
        root_hz=case.root_hz,
        root_midi=case.root_midi,
        settings=settings,
        bend_range_cents=_BEND_RANGE_CENTS,
    )


def note_ons(case: Case, frames: Iterable[PitchFrame]) -> list[NoteOn]:
    """The Note Ons that hearing and quantiser make of the frames; a pitch under a closed gate (no level) is none."""
    return [event for event in events_of(case, frames) if isinstance(event, NoteOn)]


def events_of(case: Case, frames: Iterable[PitchFrame]) -> list[Event]:
    """All that is made of the frames, live; what the peers hear is all taken for reeds."""
    chain, hearing = quantiser(case), Hearing(QuantiseSettings(), tells_reeds=True, look_ahead=False)
    gated = (replace(frame, hz=0.0) if frame.level_db <= SILENCE_DB else frame for frame in frames)
    return [event for frame in gated for heard in hearing.step(frame) for event in chain.step(heard)]


def note_figures(case: Case, found: Sequence[NoteOn]) -> NoteFigures:
    """The Note Ons held against the notes of the case."""
    notes = case.sound.notes
    pairs = matched(notes, found)
    delays, wrong, scooped = _late_delays_ms(notes, found, pairs), 0, 0
    for played, on in pairs:
        note, sent = notes[played], found[on]
        delays[played] = 1000.0 * (sent.ready_s - note.attack_s)
        right, meant = _right(case, note, sent.ready_s)
        wrong += sent.midi_note not in right | meant
        scooped += sent.midi_note in right - meant
    return NoteFigures(len(notes), len(notes) - len(pairs), len(found) - len(pairs), wrong, scooped, tuple(delays))


def _late_delays_ms(notes: Sequence[TruthNote], found: Sequence[NoteOn], pairs: list[tuple[int, int]]) -> list[float]:
    """For each note: the delay of the first Note On during it that belongs to no other, too late to be its own."""
    taken = {on for _, on in pairs}
    free = np.array(sorted(sent.ready_s for index, sent in enumerate(found) if index not in taken) or [np.inf])
    delays = []
    for note in notes:
        at = int(np.searchsorted(free, note.attack_s + _LATE_S))
        came = at < len(free) and free[at] < note.end_s
        delays.append(1000.0 * (float(free[at]) - note.attack_s) if came else np.inf)
    return delays


def matched(notes: Sequence[TruthNote], found: Sequence[NoteOn]) -> list[tuple[int, int]]:
    """Pairs (index of the note, index of its Note On)."""
    if not notes or not found:
        return []
    middle = (_LATE_S - _EARLY_S) / 2.0
    ready = np.array([on.ready_s for on in found]) - middle
    attacks = np.array([note.attack_s for note in notes])
    return list(
        transcription.match_note_onsets(
            np.column_stack([attacks, attacks + 0.1]),
            np.column_stack([ready, ready + 0.1]),
            onset_tolerance=_EARLY_S + middle,
        )
    )


def wrong_places(case: Case, found: Sequence[NoteOn]) -> list[str]:
    """One line for each Note On that is wrong, missing or extra, in the order of time."""
    notes, pairs = case.sound.notes, matched(case.sound.notes, found)
    lines = [(notes[i].attack_s, "missing") for i in sorted(set(range(len(notes))) - {pair[0] for pair in pairs})]
    lines += [(found[j].ready_s, f"extra {found[j].midi_note}") for j in set(range(len(found))) - {j for _, j in pairs}]
    for played, on in pairs:
        right, meant = _right(case, notes[played], found[on].ready_s)
        if found[on].midi_note not in meant:
            what = "scooped" if found[on].midi_note in right else "wrong"
            lines.append((found[on].ready_s, f"{what} {found[on].midi_note}, meant {sorted(meant)}"))
    return [f"{at_s:8.3f} s  {what}" for at_s, what in sorted(lines)]


def _right(case: Case, note: TruthNote, ready_s: float) -> tuple[set[int], set[int]]:
    """MIDI notes that are right at ``ready_s``, and those the player meant by then."""
    sound = case.sound
    first, last = np.searchsorted(sound.times_s, [note.attack_s, note.end_s])
    known = first + np.flatnonzero(sound.scored[first:last] & (sound.hz[first:last] > 0.0))
    if not len(known):
        return set(), set()
    known_s, known_hz = float(sound.times_s[known[0]]), float(sound.hz[known[0]])
    pitches = [known_hz, *sound.hz[known[sound.times_s[known] <= ready_s + _SOON_S]].tolist()]
    if known_s <= note.attack_s + _UNKNOWN_S:
        meant = _slots(case, pitches)
        return meant, meant
    scoop = [known_hz * 2.0 ** (-cents / 1200.0) for cents in np.arange(0.0, SCOOP_CENTS + 1.0, 10.0)]
    asked = note.bend.at(np.linspace(0.0, max(0.0, ready_s + _SOON_S - note.start_s), 20))
    return _slots(case, pitches + scoop), _slots(case, (case.a4_hz * 2.0 ** ((note.midi - 69 + asked / 100) / 12)))


def _slots(case: Case, pitches_hz: Iterable[float]) -> set[int]:
    """MIDI notes of the slots that hold these pitches, 5 cents either way."""
    settings = QuantiseSettings()
    scale = find_scale(settings.scale, settings.scales)
    anchors = {
        scale.place(cents_between(hz, case.root_hz) + border).anchor
        for hz in pitches_hz
        for border in (-_BORDER_CENTS, _BORDER_CENTS)
    }
    return {case.root_midi + round(anchor / 100.0) for anchor in anchors}
