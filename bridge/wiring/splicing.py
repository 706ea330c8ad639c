"""Cutting a part out of a take, and joining takes, with their sound, sample for sample."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import accumulate

from bridge.base.errors import UserError
from bridge.takes.facts_spliced import cut_facts, cut_tempo, joined_facts
from bridge.takes.moving import DECIMALS
from bridge.takes.sound_parts import SoundPart, require_alike, sound_kind
from bridge.takes.splicing import cut, is_torn, joined, numbering, on_sample, placed
from bridge.takes.take_yaml import read_take_yaml
from bridge.takes.tempo import tempo_facts
from bridge.wiring.editing import Edit
from bridge.wiring.opening import OpenedTake
from bridge.wiring.played_notes import played_notes

#: What times are counted in where there is no sound, Hz.
_RATE = 48000
_MOST_GAP_S = 3600.0
_PLACED = (
    "The cut goes through what was moved or made longer: in the sound of the new take every note lies where it is now, "
    "and what was taken out is silent."
)


def edit_cut(take: OpenedTake, from_s: float, to_s: float | None) -> Edit:
    """What sounds between two times (None: the end). Raises UserError where there is nothing between them.

    A cut that would part a note from its sound, which lies elsewhere, is one of the sound with every note where it is
    now.
    """
    kept = take.folder.sound.is_file()
    rate = sound_kind(take.folder.sound).rate if kept else _RATE
    length_s = take_length_s(take)
    from_s = on_sample(from_s, rate)
    to_s = on_sample(length_s if to_s is None else min(to_s, length_s), rate)
    if not from_s < to_s:
        raise UserError(
            f"Nothing of {take.folder.path} lies from {from_s:g} to {to_s:g} s: it is {length_s:.1f} s long."
        )
    document = read_take_yaml(take.folder.description)
    facts = {"length_s": round(to_s - from_s, DECIMALS), **cut_facts(document, from_s, to_s)}
    said = document.get("tempo")
    if take.tempo is not None and isinstance(said, Mapping):
        # How it is known stays as it was.
        bar_1_s = tempo_facts(cut_tempo(take.tempo, from_s), "option")["bar_1_s"]
        facts["tempo"] = {**said, "bar_1_s": bar_1_s}
    part = SoundPart(take.folder.sound, round(from_s * rate), round(to_s * rate))
    held = played_notes(take)
    cuts = from_s if from_s > 0.0 else None, to_s if to_s < on_sample(length_s, rate) else None
    moved = tuple(placed(held, take.notes)) if kept and is_torn(held, take.notes, *cuts) else None
    notes, played = (tuple(cut(some, from_s, to_s)) for some in (take.notes, held if moved is None else moved))
    sound, values = (part,) if kept else None, {"from_s": from_s, "to_s": to_s}
    told = () if moved is None else (_PLACED,)
    return Edit((take,), "cut", values, notes, played, sound, facts, told, placed=moved)


def edit_join(takes: Sequence[OpenedTake], gap_s: float) -> Edit:
    """Takes, at least two, one after another with ``gap_s`` of silence between.

    Where one has no sound the new one has none, which is told. Raises UserError for sounds that cannot follow another.
    """
    if len(takes) < 2:
        raise UserError("Give at least two takes to join.")
    if not 0.0 <= gap_s <= _MOST_GAP_S:
        raise UserError(f"--gap: found {gap_s:g}, allowed: 0 to {_MOST_GAP_S:g} s.")
    sounds = [take.folder.sound for take in takes]
    lacking = [str(sound.parent) for sound in sounds if not sound.is_file()]
    kind = require_alike(sounds) if not lacking else None
    rate = _RATE if kind is None else kind.rate
    gap = round(gap_s * rate)
    # In samples, so that no sum of rounded times goes astray.
    sizes = [
        sound_kind(sound).count if kind else round(take_length_s(take) * rate)
        for take, sound in zip(takes, sounds, strict=True)
    ]
    starts_s = [round(start / rate, DECIMALS) for start in accumulate([0, *(size + gap for size in sizes)])]
    parts = [SoundPart(sound, 0, None, gap) for sound in sounds[:-1]] + [SoundPart(sounds[-1])]
    documents = [read_take_yaml(take.folder.description) for take in takes]
    facts = {
        "length_s": round(starts_s.pop() - gap / rate, DECIMALS),
        **joined_facts(documents, starts_s),
    }
    both = [(take.notes, played_notes(take)) for take in takes]
    more_ids = numbering(both, starts_s)
    notes, played = (tuple(joined([take[version] for take in both], starts_s, more_ids)) for version in (0, 1))
    values = {"takes": [take.folder.path.resolve().name for take in takes], "gap_s": gap_s}
    told = (f"The new take has no sound, since {', '.join(lacking)} has none.",) if lacking else ()
    return Edit(tuple(takes), "join", values, notes, played, None if lacking else tuple(parts), facts, told)


def take_length_s(take: OpenedTake) -> float:
    """How long a take is: its sound, else what an edit has said of it, else to the end of its last note."""
    if take.folder.sound.is_file():
        return sound_kind(take.folder.sound).length_s
    said = read_take_yaml(take.folder.description).get("length_s")
    end_s = max((note.end_s for note in take.notes), default=0.0)
    return max(float(said), end_s) if isinstance(said, int | float) else end_s
