"""Edits of an opened take, and what each comes to. The take itself is never touched."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace

from bridge.base.errors import UserError
from bridge.harp.harp import Harp
from bridge.harp.note_names import note_name
from bridge.harp.settings import HarpSettings
from bridge.takes.choosing import Choice
from bridge.takes.differing import Change, changes
from bridge.takes.edited import EditedNote
from bridge.takes.moving import quantised, swung_beats
from bridge.takes.performed import in_force
from bridge.takes.settled import settled
from bridge.takes.shaping import move_settled, scale_bends, straighten
from bridge.takes.sound_parts import SoundPart
from bridge.takes.tempo_choice import KnownTempo
from bridge.takes.transposing import counted_from, straight_bend, transposed
from bridge.wiring.harps import harp_set
from bridge.wiring.on_harp import quantise_on
from bridge.wiring.opening import OpenedTake
from bridge.wiring.played_notes import played_notes
from bridge.wiring.told_harps import PlayedHarp

_CENTS_PER_OCTAVE, _CENTS_PER_SEMITONE = 1200.0, 100.0
_MOST_TOLD = 8
#: Less is not told, cents: nobody hears it.
_TOLD_CENTS = 5.0


@dataclass(frozen=True, slots=True)
class Edit:
    """What an edit of ``takes`` comes to.

    ``name`` is that of the edit and ``values`` what was asked for; ``notes`` are those of the new take, ``played`` what
    its sound holds, ``sound`` where that comes from (None: there is none); ``facts`` is what its ``take.yaml`` says
    otherwise than that of the first take, ``told`` what the player should know, ``root_midi`` the root of another harp,
    ``unplayable`` the ids of notes that it took out of the reach of the harp. ``placed`` is what the sound of the first
    take is brought to hold before it is cut (None: it is cut as it was played).
    """

    takes: tuple[OpenedTake, ...]
    name: str
    values: Mapping[str, object]
    notes: tuple[EditedNote, ...]
    played: tuple[EditedNote, ...]
    sound: tuple[SoundPart, ...] | None
    facts: Mapping[str, object] = field(default_factory=dict)
    told: tuple[str, ...] = ()
    root_midi: int | None = None
    unplayable: frozenset[int] = frozenset()
    placed: tuple[EditedNote, ...] | None = None

    @property
    def changes(self) -> list[Change]:
        """The notes that are not as they were in the first take."""
        return changes(self.takes[0].notes, self.notes)


def edit_bends(take: OpenedTake, choice: Choice, factor: float) -> Edit:
    """The bends of the chosen notes ``factor`` times as far from where their degree is straight."""
    return _shaped(
        take, "scale-bends", {"factor": factor}, choice, lambda note: scale_bends(note, factor, straight_of(take, note))
    )


def edit_settled(
    take: OpenedTake, choice: Choice, *, to_cents: float | None, by_cents: float, whole: bool = False
) -> Edit:
    """The chosen notes settling ``to_cents`` above the root, in the octave nearest, or if that is None so much higher.

    ``whole`` moves scoop and release along. Raises UserError where the root is not known.
    """

    def moved(note: EditedNote) -> EditedNote:
        place = settled(note)
        by = by_cents if to_cents is None else _way_to(take, note, place.bend_cents, to_cents)
        return move_settled(note, place, by, whole=whole)

    values: dict[str, object] = {"by_cents": by_cents} if to_cents is None else {"to_cents": to_cents}
    return _shaped(take, "settle", values | ({"whole": True} if whole else {}), choice, moved)


def edit_straight(take: OpenedTake, choice: Choice, *, keep_scoop: bool, keep_release: bool) -> Edit:
    """The chosen notes held still where they settle."""
    values = {"keep_scoop": keep_scoop, "keep_release": keep_release}
    return _shaped(
        take,
        "straighten",
        values,
        choice,
        lambda note: straighten(note, settled(note), keep_scoop=keep_scoop, keep_release=keep_release),
    )


def edit_starts(take: OpenedTake, known: KnownTempo, quarters: float, swing: float, strength: float) -> Edit:
    """All notes moved ``strength`` (0..1) of the way to the beats of a tempo, one every so many ``quarters``."""
    notes = tuple(quantised(take.notes, swung_beats(known.tempo, quarters, swing), strength))
    values = {"grid_quarters": round(quarters, 5), "swing": round(swing, 4), "strength": strength}
    facts = {} if known.tempo == take.tempo else {"tempo": known.facts()}
    return _of_one(take, "quantise", values, notes, facts=facts)


def edit_harp(take: OpenedTake, harp_settings: HarpSettings) -> Edit:
    """All notes over the root of another harp, with its holes, bent around its degrees as they were around those here.

    Raises UserError where a harp is not known.
    """
    other = harp_set(harp_settings).harps[0]
    known, heard = _harps_of(take, take.notes), played_notes(take)
    own_third = take.settings.quantise.third.straight != "harp"
    moved = transposed(take.notes, known, other.harp, own_third=own_third)
    changed = {note.id for note, harp in zip(moved, known, strict=True) if not _reeds_alike(harp, other.harp)}
    there = replace(take, harps=(PlayedHarp(0.0, other),)).with_notes(moved, retold=changed)
    # A degree is counted from the root, so it is the same on every harp.
    notes = tuple(replace(note, degree=before.degree) for note, before in zip(there.notes, take.notes, strict=True))
    settings = take.settings.model_copy(update={"harp": harp_settings})
    facts = {"harp": other.facts(), "harp_changes": [], "settings": settings.model_dump(mode="json")}
    values = {"to": other.name, "a4_hz": other.harp.a4_hz}
    lost = frozenset(note.id for note in notes if note.id in changed and note.hole is None)
    told = _unplayable_words(notes, lost, other.harp.root_midi, f"the {other.name}")
    a4s = sorted({f"{harp.a4_hz:g}" for harp in known} - {f"{other.harp.a4_hz:g}"})
    if a4s:
        told = (f"A4 goes from {' and '.join(a4s)} to {other.harp.a4_hz:g} Hz.", *told)
    edit = _of_one(take, "transpose", values, notes, facts=facts, told=told)
    # The sound stays what it was, told from the root that the new take counts from.
    played = [counted_from(note, harp, other.harp) for note, harp in zip(heard, _harps_of(take, heard), strict=True)]
    return replace(edit, played=tuple(played), root_midi=other.harp.root_midi, unplayable=lost)


def _harps_of(take: OpenedTake, notes: Sequence[EditedNote]) -> list[Harp]:
    """The harp that each note was played on. Raises UserError where one is not known."""
    harps = [take.harp_at(note) for note in notes]
    known = [harp for harp in harps if harp is not None]
    if len(known) < len(harps):
        raise UserError(_unknown(take))
    return known


def straight_of(take: OpenedTake, note: EditedNote) -> float:
    """The bend at which the degree of a note is straight for this player; 0 where no harp is known."""
    played = in_force(note, take.harps)
    if played is None or played.held is None:
        return 0.0
    third = quantise_on(take.settings, played.held).third.straight_cents
    return straight_bend(note, played.held.harp, third, settled(note).bend_cents)


def _way_to(take: OpenedTake, note: EditedNote, bend_cents: float, to_cents: float) -> float:
    """How far it is from a bend to ``to_cents`` above the root, in the octave nearest, cents."""
    harp = take.harp_at(note)
    if harp is None:
        raise UserError(_unknown(take))
    cents = _CENTS_PER_SEMITONE * (note.midi_note - harp.root_midi) + bend_cents
    return (to_cents - cents + _CENTS_PER_OCTAVE / 2.0) % _CENTS_PER_OCTAVE - _CENTS_PER_OCTAVE / 2.0


def _shaped(
    take: OpenedTake,
    name: str,
    values: Mapping[str, object],
    choice: Choice,
    shape: Callable[[EditedNote], EditedNote],
) -> Edit:
    """The chosen notes in another shape, with the degree and the hole that they then have."""
    choice.check(take.notes)
    chosen = [note for note in take.notes if choice.holds(note)]
    if not chosen:
        raise UserError("None of the notes is meant: see --notes, --degree, --from and --to.")
    shaped = {note.id: shape(note) for note in chosen}
    changed = {note.id for note in chosen if shaped[note.id].points != note.points}
    notes = take.with_notes([shaped.get(note.id, note) for note in take.notes], retold=changed).notes
    first = take.harps[0].harp
    lost = frozenset(note.id for note in notes if note.id in changed and note.hole is None and take.harp_at(note))
    words = _unplayable_words(notes, lost, None if first is None else first.root_midi, "the harp")
    edit = _of_one(take, name, {**values, **_chosen(choice)}, notes, told=words)
    return replace(edit, unplayable=lost)


def _of_one(
    take: OpenedTake,
    name: str,
    values: Mapping[str, object],
    notes: tuple[EditedNote, ...],
    *,
    facts: Mapping[str, object] | None = None,
    told: tuple[str, ...] = (),
) -> Edit:
    """An edit that leaves the sound as it is."""
    sound = (SoundPart(take.folder.sound),) if take.folder.sound.is_file() else None
    return Edit((take,), name, values, notes, played_notes(take), sound, facts or {}, told)


def _chosen(choice: Choice) -> dict[str, object]:
    """What ``take.yaml`` says of a choice."""
    said: dict[str, object] = {}
    if choice.ids is not None:
        said["notes"] = ",".join(f"{first}" if first == last else f"{first}-{last}" for first, last in choice.ids)
    if choice.degrees is not None:
        said["degrees"] = sorted(choice.degrees)
    if choice.from_s > 0.0:
        said["from_s"] = choice.from_s
    if choice.to_s < float("inf"):
        said["to_s"] = choice.to_s
    return said


def _unplayable_words(
    notes: Sequence[EditedNote], lost: Collection[int], root_midi: int | None, on: str
) -> tuple[str, ...]:
    """One line on what cannot be played any more, if anything."""
    names = [f"{note.id} ({_place_words(note, root_midi)})" for note in notes if note.id in lost]
    if not names:
        return ()
    more = f" and {len(names) - _MOST_TOLD} more" if len(names) > _MOST_TOLD else ""
    which = "Note" if len(names) == 1 else "Notes"
    listed = ", ".join(names[:_MOST_TOLD])
    return (f"{which} {listed}{more} cannot be played on {on}: no reed, bend or overbend is there.",)


def _place_words(note: EditedNote, root_midi: int | None) -> str:
    """The note it settles at, and how far from it."""
    bend_cents = settled(note).bend_cents
    off = f" {bend_cents:+.0f} cents" if abs(bend_cents) >= _TOLD_CENTS else ""
    return note_name(note.midi_note, root_midi) + off


def _reeds_alike(one: Harp, other: Harp) -> bool:
    """Whether holes and bends are the same on both, whatever their A4."""
    reeds = [[replace(reed, hz=0.0) for reed in harp.reeds] for harp in (one, other)]
    return one.root_midi == other.root_midi and reeds[0] == reeds[1]


def _unknown(take: OpenedTake) -> str:
    return f"The harp of {take.folder.path} is not known, so nobody can tell where its root is. Say it in take.yaml."
