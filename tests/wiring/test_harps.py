"""The layouts that come with the program, against notes written by hand; a layout of one's own; the harp in hand."""

from __future__ import annotations

from math import log2
from pathlib import Path

import pytest
from librosa import note_to_midi

from bridge.base.errors import UserError
from bridge.base.events import Event, Inflection, NoteOn
from bridge.harp.layout import RICHTER
from bridge.harp.settings import HarpSettings
from bridge.wiring.chain import Chain
from bridge.wiring.harps import find_layout, harp_in_hand, layout_names, read_layout
from bridge.wiring.settings import load_settings
from follow.tones import RATE, blocks_of, harmonic_tone

# Notes of each layout where hole-1 blow is C4 (from memory; common practice of the trade, no source).
NOTES = {
    "richter": ("C4 E4 G4 C5 E5 G5 C6 E6 G6 C7", "D4 G4 B4 D5 F5 A5 B5 D6 F6 A6"),
    "country": ("C4 E4 G4 C5 E5 G5 C6 E6 G6 C7", "D4 G4 B4 D5 F#5 A5 B5 D6 F6 A6"),
    "dorian": ("C4 E4 G4 C5 E5 G5 C6 E6 G6 C7", "D4 G4 Bb4 D5 F5 A5 Bb5 D6 F6 A6"),
    "natural-minor": ("C4 Eb4 G4 C5 Eb5 G5 C6 Eb6 G6 C7", "D4 G4 Bb4 D5 F5 A5 Bb5 D6 F6 A6"),
    "harmonic-minor": ("C4 Eb4 G4 C5 Eb5 G5 C6 Eb6 G6 C7", "D4 G4 B4 D5 F5 Ab5 B5 D6 F6 Ab6"),
    "paddy-richter": ("C4 E4 A4 C5 E5 G5 C6 E6 G6 C7", "D4 G4 B4 D5 F5 A5 B5 D6 F6 A6"),
    "solo": ("C4 E4 G4 C5 C5 E5 G5 C6 C6 E6", "D4 F4 A4 B4 D5 F5 A5 B5 D6 F6"),
    "diminished": ("C4 Eb4 Gb4 A4 C5 Eb5 Gb5 A5 C6 Eb6", "D4 F4 Ab4 B4 D5 F5 Ab5 B5 D6 F6"),
}


def test_the_layouts_are_those_that_the_setting_names() -> None:
    """Every layout has its notes in the table above and its name in the setting's description."""
    assert set(layout_names()) == set(NOTES)
    described = str(HarpSettings.model_fields["layout"].description)
    assert all(f" {name}," in described for name in NOTES)


@pytest.mark.parametrize("name", NOTES)
def test_each_layout_has_the_notes_of_the_trade(name: str) -> None:
    """Hole by hole, blown and drawn."""
    layout = read_layout(name)
    blow, draw = ([note_to_midi(note) - 60 for note in row.split()] for row in NOTES[name])
    assert layout.name == name
    assert (list(layout.blow), list(layout.draw)) == (blow, draw)


def test_a_layout_goes_by_its_name_in_any_spelling() -> None:
    """Capitals, spaces and underscores do not matter."""
    assert find_layout(" Natural Minor ") == "natural-minor"
    assert find_layout("paddy_richter") == "paddy-richter"
    assert load_settings(sets=["harp.layout=Country"]).harp.layout == "country"


def test_a_layout_of_ones_own_is_read_from_its_file(tmp_path: Path) -> None:
    """A path in the settings becomes the harp's notes, in the settings' key, position, A4 and temperament."""
    file = tmp_path / "Mine.yaml"
    file.write_text("blow: [0, 5]\ndraw: [2, 9]\n", encoding="utf-8")
    harp = harp_in_hand(load_settings(sets=[f"harp.layout={file}", "harp.key=D", "harp.a4_hz=442"]).harp)
    assert (harp.key, harp.position, harp.a4_hz) == ("D", 2, 442.0)
    assert [reed.semitones for reed in harp.reeds] == [0, 2, 5, 9]


def test_the_harp_in_hand_is_that_of_the_settings() -> None:
    """Plain settings give the plain layout; a temperament moves its reeds."""
    assert harp_in_hand(HarpSettings()).layout is RICHTER
    harp = harp_in_hand(load_settings(sets=["harp.temperament=just-5-limit"]).harp)
    assert harp.straight_third_cents() == pytest.approx(386.31, abs=0.01)  # 1200 * log2(5 / 4)


def test_a_just_third_is_read_over_the_players_own_root_and_goes_out_as_it_sounded() -> None:
    """Draw 3 of a just C harp at A443 is 5/4 over draw 2, and note, bend and tuning together are its frequency."""
    chain = Chain(load_settings(sets=["harp.temperament=just-7-limit", "harp.a4_hz=443"]), RATE)
    events: list[Event] = []
    chain.add_player(events.append)
    hz = 443.0 * 2.0 ** ((60 - 69) / 12) * 15 / 8
    for block in blocks_of(harmonic_tone(hz, 0.4), 128):
        chain.feed(block)
    (note,) = [event.midi_note for event in events if isinstance(event, NoteOn)]
    bend = [event.bend_cents for event in events if isinstance(event, Inflection)][-1]
    assert bend == pytest.approx(1200.0 * log2(5 / 4) - 400.0, abs=0.5)
    played = 69.0 + 12.0 * log2(hz / 440.0)  # MIDI 1.0, 4.2.1
    assert note + (bend + chain.harp.sharp_cents) / 100.0 == pytest.approx(played, abs=0.005)


@pytest.mark.parametrize("wanted", ["spiral", "", "layouts/country", "../layouts/solo", "\0"])
def test_an_unknown_layout_is_told_which_there_are(wanted: str) -> None:
    """The answer repeats what was given and lists every name."""
    with pytest.raises(UserError) as caught:
        find_layout(wanted)
    assert f"There is no layout {wanted!r}" in str(caught.value)
    assert ", ".join(layout_names()) in str(caught.value)


@pytest.mark.parametrize("wanted", ["missing.yaml", "\0.yaml", ".yml.yaml"])
def test_a_layout_file_that_is_not_there_is_told(wanted: str) -> None:
    """What looks like a file is looked for as one."""
    with pytest.raises(UserError, match="There is no file"):
        read_layout(wanted)


@pytest.mark.parametrize(
    ("text", "place", "told"),
    [
        ("blow: [0, 4]\n\ndraw: [2, x]\n", ":3", "draw must be a list of whole semitones"),
        ("# mine\nblow: [0, 4]\ndraw: [2]\n", ":3", "2 blow and 1 draw"),
        ("blow: [0]\ndraw: [2]\nname: mine\n", ":3", "not 'blow', 'draw', 'name'"),
        ("\nblow: [1]\ndraw: [2]\n", ":2", "blow must begin with 0"),
        ("", "", "give the two rows"),
        ("blow: [0\n", ":", "not valid YAML"),
    ],
)
def test_a_wrong_layout_file_is_told_with_file_and_line(tmp_path: Path, text: str, place: str, told: str) -> None:
    """One message with the place and what to write there."""
    file = tmp_path / "mine.yaml"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(UserError) as caught:
        read_layout(str(file))
    assert str(caught.value).startswith(f"{file}{place}")
    assert told in str(caught.value)
