"""What of a take is sung again, moved or silenced, and what is left alone."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from bridge.takes.edited import Breakpoint, EditedNote
from bridge.takes.resinging_plan import LEAD_S, Plan, make_plan

RING_S = 0.1


def note(number: int, start_s: float, length_s: float = 1.0, bend: float = -50.0) -> EditedNote:
    """A third with a breakpoint at its start, its middle and its end."""
    points = tuple(Breakpoint(part * length_s, bend, 0.5) for part in (0.0, 0.5, 1.0))
    return EditedNote(number, start_s, length_s, 71, "3", 96, 3, "draw", "bend", bend, "", points)


PLAYED = (note(1, 1.0), note(2, 2.0), note(3, 4.0))


def plan(*wanted: EditedNote, played: tuple[EditedNote, ...] = PLAYED) -> Plan:
    """The plan for notes that ring on for up to a tenth of a second."""
    return make_plan(played, wanted, lambda end_s, next_s: min(RING_S, next_s - end_s))


def moved(number: int, **changes: float) -> tuple[EditedNote, ...]:
    """The notes with one of them changed."""
    return tuple(replace(it, **changes) if it.id == number else it for it in PLAYED)  # type: ignore[arg-type]


def bent(number: int, *bends: float, breath: float = 0.5) -> tuple[EditedNote, ...]:
    """The notes with other bends at the breakpoints of one of them."""

    def edit(it: EditedNote) -> EditedNote:
        points = zip(it.points, bends, strict=True)
        return replace(it, points=tuple(replace(point, bend_cents=bend, breath=breath) for point, bend in points))

    return tuple(edit(it) if it.id == number else it for it in PLAYED)


def test_without_an_edit_nothing_is_done() -> None:
    """Nor where a MIDI file has rounded: half a cent, a hundredth of the breath, a millisecond."""
    assert plan(*PLAYED) == Plan((), (), ())
    assert plan(*bent(2, -50.5, -49.5, -50.3, breath=0.51)) == Plan((), (), ())
    assert plan(*moved(2, start_s=2.001, length_s=0.999)) == Plan((), (), ())


def test_a_note_that_is_edited_as_a_whole_has_its_attack_and_its_ring() -> None:
    """From 20 ms before it, where no other note sounds, to where it is silent or another one begins."""
    (alone,) = plan(*bent(3, -14.0, -14.0, -14.0)).stretches
    assert (alone.from_s, alone.to_s) == pytest.approx((4.0 - LEAD_S, 5.0 + RING_S))
    assert (alone.at_s, alone.until_s) == (alone.from_s, alone.to_s)
    assert alone.sung
    assert not alone.joins_before
    assert not alone.joins_after
    (legato,) = plan(*bent(1, -14.0, -14.0, -14.0)).stretches
    assert (legato.from_s, legato.to_s) == pytest.approx((1.0 - LEAD_S, 2.0))


def test_an_edit_of_a_part_leaves_the_rest() -> None:
    """Where one breakpoint at the end was moved, the note is the player's own up to its middle."""
    (late,) = plan(*bent(3, -50.0, -50.0, 0.0)).stretches
    assert late.from_s == pytest.approx(4.5 + 0.5 / 50.0, abs=0.002)
    assert late.joins_before
    assert not late.joins_after
    points = tuple(Breakpoint(at, bend, 0.5) for at, bend in ((0.0, -50.0), (0.3, -50.0), (0.5, -10.0), (0.7, -50.0)))
    (middle,) = plan(*PLAYED[:2], replace(PLAYED[2], points=points)).stretches
    assert (middle.from_s, middle.to_s) == pytest.approx((4.305, 4.695), abs=0.002)
    assert middle.joins_before
    assert middle.joins_after


def test_a_vibrato_is_one_stretch() -> None:
    """A curve that crosses the played one again and again is edited in between too."""
    points = tuple(Breakpoint(at, -50.0 + 30.0 * np.sin(40.0 * at), 0.5) for at in np.arange(0.0, 1.0, 0.01).tolist())
    wanted = (*PLAYED[:2], replace(PLAYED[2], points=points))
    assert len(plan(*wanted).stretches) == 1


def test_breath_alone_is_not_sung() -> None:
    """The pitch periods stay where they are: only the level changes."""
    (louder,) = plan(*bent(3, -50.0, -50.0, -50.0, breath=0.8)).stretches
    assert not louder.sung


def test_another_note_number_is_another_pitch() -> None:
    """As transposing does it, which leaves the bends."""
    (higher,) = plan(*moved(3, midi_note=73)).stretches
    assert higher.sung


def test_a_moved_note_takes_its_sound_along() -> None:
    """Its old place is silent; it is copied when its pitch stays, and sung when that is edited too."""
    made = plan(*moved(3, start_s=4.5))
    (copied,) = made.stretches
    assert (copied.from_s, copied.to_s) == pytest.approx((4.0 - LEAD_S, 5.0 + RING_S))
    assert (copied.at_s, copied.until_s) == pytest.approx((4.5 - LEAD_S, 5.5 + RING_S))
    assert not copied.sung
    assert made.silenced[0] == pytest.approx((4.0 - LEAD_S, 5.0 + RING_S))
    (sung,) = plan(*PLAYED[:2], replace(bent(3, 0.0, 0.0, 0.0)[2], start_s=4.5)).stretches
    assert sung.sung


def test_a_moved_note_ends_where_another_begins() -> None:
    """A harp's voice is one: note 1, put a half second later, is cut off by note 2."""
    (moved_on,) = plan(*moved(1, start_s=1.5)).stretches
    assert moved_on.until_s == pytest.approx(2.0)
    assert plan(*moved(1, start_s=2.0)).stretches[0].until_s <= 2.0 + 1e-9


def test_a_note_moved_before_the_beginning_of_the_sound_lacks_what_would_be_there() -> None:
    """A note that starts at 0 has no room for the 20 ms before it."""
    (first,) = plan(*moved(1, start_s=0.0)).stretches
    assert first.at_s == 0.0
    assert first.from_s == pytest.approx(1.0)


def test_a_shorter_note_is_cut_off() -> None:
    """What is left of it is the player's own."""
    made = plan(*moved(3, length_s=0.4))
    assert made.stretches == ()
    assert made.silenced[0] == pytest.approx((4.4, 5.0 + RING_S))


def test_a_longer_note_is_drawn_out_behind_its_attack() -> None:
    """Twice as long as a whole: the first 80 ms are not, what comes behind is; its ring follows."""
    made = plan(*moved(3, length_s=2.0))
    (longer,) = made.stretches
    assert longer.grown_s == pytest.approx(1.0)
    assert longer.sung
    assert longer.until_s == pytest.approx(6.0 + RING_S)
    came = longer.came_from(np.array([0.05, 0.08, 1.04, 2.0, 2.1]))
    assert came == pytest.approx([0.05, 0.08, 0.54, 1.0, 1.1])


def test_a_note_taken_out_is_silent_and_an_added_one_is_told() -> None:
    """Nobody played the one, and there is no sound of the other."""
    made = plan(*PLAYED[:2], note(7, 6.0))
    assert made.stretches == ()
    assert made.silenced[0] == pytest.approx((4.0 - LEAD_S, 5.0 + RING_S))
    assert made.unsung == (7,)
