"""Settings from all layers, and one plain message for whatever is wrong with them."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st
from pydantic import BaseModel

from bridge.base.errors import ManyFaultsError, SettingError, UserError
from bridge.base.resources import resource, resource_folder
from bridge.wiring.layers import presets
from bridge.wiring.settings import Settings, load_settings
from bridge.wiring.wording import all_keys, field_at, group_in, in_brackets


def _plain(value: object) -> object:
    """A setting as YAML has it: lists instead of tuples."""
    if isinstance(value, dict):
        return {name: _plain(inner) for name, inner in value.items()}
    return [_plain(item) for item in value] if isinstance(value, tuple | list) else value


def test_the_default_file_holds_every_setting_with_its_default() -> None:
    """config/default.yaml and the models have the same keys, in the same order, and the same values."""
    text = resource("config", "default.yaml").read_text(encoding="utf-8")
    assert yaml.safe_load(text) == _plain(Settings().model_dump())
    keys = list(all_keys(Settings))
    assert _leaves(yaml.safe_load(text), Settings) == keys
    assert load_settings() == Settings()


def _leaves(tree: dict[str, object], model: type[BaseModel], above: str = "") -> list[str]:
    """Dotted keys of the plain values in the order of the file."""
    found: list[str] = []
    for name, value in tree.items():
        group = group_in(model.model_fields[name].annotation)
        found += _leaves(value, group, f"{above}{name}.") if group and isinstance(value, dict) else [f"{above}{name}"]
    return found


@pytest.mark.parametrize("preset", presets())
def test_every_key_of_a_preset_has_a_comment(preset: str) -> None:
    """Right above each setting, or above its group in a preset that only overrides, a comment says what it is."""
    lines = resource("config", f"{preset}.yaml").read_text(encoding="utf-8").splitlines()
    for number, line in enumerate(lines):
        stripped = line.strip()
        if not stripped or stripped.startswith("#") or (preset != "default" and not _is_first_of_group(lines, number)):
            continue
        is_section = not line.startswith(" ") and stripped.endswith(":")
        assert lines[number - 1].strip().startswith("#") or (is_section and preset != "default"), line


def _is_first_of_group(lines: list[str], number: int) -> bool:
    """Whether the line does not follow another setting of its group or the group's own name."""
    before = lines[number - 1].strip()
    return before.startswith("#") or not before


@pytest.mark.parametrize("preset", [name for name in presets() if name != "default"])
def test_a_preset_changes_something_and_only_known_things(preset: str) -> None:
    """Each preset loads, differs from the defaults, and each value it gives differs from the default."""
    assert load_settings(preset) != Settings()
    given_values = yaml.safe_load(resource("config", f"{preset}.yaml").read_text(encoding="utf-8"))
    default = _plain(Settings().model_dump())
    assert isinstance(default, dict)
    assert _same(given_values, default) == []


def _same(tree: dict[str, object], default: dict[str, object]) -> list[str]:
    """Keys whose value is the default's."""
    found: list[str] = []
    for name, value in tree.items():
        below = default[name]
        if isinstance(value, dict) and isinstance(below, dict):
            found += _same(value, below)
        elif value == below:
            found.append(name)
    return found


def test_the_presets_are_there() -> None:
    """The presets that the documents name come with the program."""
    assert presets() == [
        "breath",
        "classroom",
        "default",
        "driven",
        "fluidsynth",
        "mpe",
        "puredata",
        "recording",
        "stage",
        "supercollider",
    ]


def test_later_layers_win(tmp_path: Path) -> None:
    """Defaults give way to a preset, a preset to options, options to --set, key by key."""
    file = tmp_path / "mine.yaml"
    file.write_text("harp: {key: A, position: 1, a4_hz: 441}\n", encoding="utf-8")
    settings = load_settings(
        str(file), ["harp.key=Bb"], {"harp.key": "G", "harp.position": "third", "follow.follower": None}
    )
    assert (settings.harp.key, settings.harp.position, settings.harp.a4_hz) == ("Bb", 3, 441)
    assert settings.follow.follower == "own"


def test_a_users_scale_can_be_added_and_chosen(tmp_path: Path) -> None:
    """A file of the user's own brings a scale and picks it."""
    file = tmp_path / "mine.yaml"
    file.write_text("quantise:\n  scale: five\n  scales:\n    five: 1 b3 4 5 b7\n", encoding="utf-8")
    assert load_settings(str(file)).quantise.scale == "five"


@pytest.mark.parametrize(
    ("text", "line", "key", "allowed"),
    [
        ("harp:\n  a4_hz: loud\n", 2, "harp.a4_hz", "a number from 400.0 to 480.0"),
        ("harp:\n  a4_hz: 300\n", 2, "harp.a4_hz", "a number from 400.0 to 480.0"),
        ("harp:\n  # a comment\n  kee: C\n", 3, "harp.kee", "harp.key (the nearest)"),
        ("harpe:\n  key: C\n", 1, "harpe", "harp (the nearest)"),
        ("\nharp: C\n", 2, "harp", "these settings below it: key, position"),
        ("harp:\n  key: H\n", 2, "harp.key", "allowed: low-C, low-Db, low-D, "),
        ("send:\n  midi:\n    bright: 500\n", 3, "send.midi.bright", "a whole number from 1 to 119 or nothing (null)"),
        ("send:\n  midi:\n    breath: 500\n", 3, "send.midi.breath", "from 1 to 119 or pressure or nothing (null)"),
        ("follow:\n  follower: best\n", 2, "follow.follower", "one of own, aubio"),
        ("takes:\n  keep_sound: perhaps\n", 2, "takes.keep_sound", "true or false"),
        ("quantise:\n  also_blue: [5, 6]\n", 2, "quantise.also_blue", "a list, each item one of 5, 7"),
        ("quantise:\n  third:\n    minor: 390\n", 3, "quantise.third.minor", "minor < zone_low"),
        ("quantise:\n  third:\n    minor: 390\n    straight: 400\n", 2, "quantise.third", "minor < zone_low"),
        ("quantise:\n  scale: blus\n", 2, "quantise.scale", "blues"),
        ("quantise:\n  scales: 3\n", 2, "quantise.scales", "names with values below them"),
        ("harp:\n  layout: spiral\n", 2, "harp.layout", "allowed: richter, country, diminished, "),
        ("harp:\n  layout: mine.yaml\n", 2, "harp.layout", "or a .yaml file with the rows blow and draw"),
        ("harp:\n  temperament: even\n", 2, "harp.temperament", "one of equal, just-5-limit, just-7-limit, "),
        ("harp:\n  position: 13\n", 2, "harp.position", "allowed: 1 to 12, or first"),
        ("quantise:\n  scale: x\n", 2, "quantise.scale", "allowed: blues, major"),
        ("send:\n  osc: {to: x}\n", 2, "send.osc.to", "allowed: HOST:PORT, such as 127.0.0.1:9000"),
        ("a4_hz: 442\n", 1, "a4_hz", "harp.a4_hz (the nearest)"),
    ],
)
def test_a_wrong_value_is_told_with_file_line_key_and_what_is_allowed(
    tmp_path: Path, text: str, line: int, key: str, allowed: str
) -> None:
    """One plain message says where the value stands, what was found and what would do."""
    file = tmp_path / "mine.yaml"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(SettingError) as caught:
        load_settings(str(file))
    message = str(caught.value)
    assert message.startswith(f"{file}:{line}: {key}: found ")
    assert allowed in message
    assert "pydantic" not in message.lower()
    assert "\n" not in message


def test_every_fault_is_told_in_the_order_of_the_lines(tmp_path: Path) -> None:
    """A preset's faults come line by line, unknown keys among wrong values, those of --set after them."""
    file = tmp_path / "mine.yaml"
    file.write_text(
        "send:\n  midi: {channel: 17}\nharpe: 1\nharp:\n  key: H\n  kee: C\n  a4_hz: 300\n"
        "quantise:\n  also_blue: [5, 6, 8]\n",
        encoding="utf-8",
    )
    with pytest.raises(ManyFaultsError) as caught:
        load_settings(str(file), ["takes.flush_s=0", "follow.follower=ears"])
    said = str(caught.value).splitlines()
    expected = [
        *(f"{file}:2: send.midi.channel", f"{file}:3: harpe", f"{file}:5: harp.key", f"{file}:6: harp.kee"),
        *(f"{file}:7: harp.a4_hz", f"{file}:9: quantise.also_blue"),
        *("--set takes.flush_s=0: takes.flush_s", "--set follow.follower=ears: follow.follower"),
    ]
    assert [line.partition(": found ")[0] for line in said] == expected
    assert all(isinstance(error, SettingError) for error in caught.value.errors)


def test_what_a_command_takes_for_granted_gives_way_to_the_user(tmp_path: Path) -> None:
    """It wins over the defaults, and every preset, option and --set that speaks of it wins over it."""
    granted = {"send.midi.bend_range": 24}
    file = tmp_path / "mine.yaml"
    file.write_text("send: {midi: {bend_range: 2}}\n", encoding="utf-8")
    assert load_settings(granted=granted).send.midi.bend_range == 24
    assert load_settings("stage", granted=granted).send.midi.bend_range == 24
    assert load_settings("recording", granted=granted).send.midi.bend_range == 12
    assert load_settings(str(file), granted=granted).send.midi.bend_range == 2
    assert load_settings(None, ["send.midi.bend_range=3"], granted=granted).send.midi.bend_range == 3
    assert load_settings(flags={"send.midi.bend_range": 4}, granted=granted).send.midi.bend_range == 4


def test_what_stands_in_brackets_is_the_middle_of_a_sentence() -> None:
    """No message has a capital or a full stop of a setting's own description in it; names and units keep theirs."""
    for key in all_keys(Settings):
        field = field_at(Settings, tuple(key.split(".")))
        assert field is not None
        text = in_brackets(str(field.description))
        assert not text.endswith("."), key
        assert re.match(r"[a-z0-9]|[A-Z]{2}|Hz", text), key
    assert in_brackets("Pitch of A4 on this harp, Hz.") == "pitch of A4 on this harp, Hz"


@pytest.mark.parametrize(
    ("word", "said"),
    [
        ("harp.a4_hz=loud", "--set harp.a4_hz=loud: harp.a4_hz: found 'loud', allowed: a number from 400.0 to 480.0"),
        ("harp.a4=442", "--set harp.a4=442: harp.a4: found 'a4', allowed: harp.a4_hz (the nearest)"),
        ("harp.a4_hz", "expected key=value"),
        ("=3", "expected key=value"),
        ("harp.key=[", "cannot be read as a value"),
        ("harp.key.deeper=3", "harp.key: found"),
    ],
)
def test_a_wrong_word_after_set_is_told(word: str, said: str) -> None:
    """--set is checked like a file, and the message repeats what was typed."""
    with pytest.raises(UserError) as caught:
        load_settings(sets=[word])
    assert said in str(caught.value)


def test_a_wrong_option_is_told() -> None:
    """A value given as an option is named as coming from the command line."""
    with pytest.raises(SettingError, match=r"^the command line: harp\.a4_hz: found 10"):
        load_settings(flags={"harp.a4_hz": 10.0})


@pytest.mark.parametrize("preset", ["stagee", "no/such", "missing.yaml", "../config/stage"])
def test_an_unknown_preset_is_answered_with_those_there_are(preset: str) -> None:
    """A preset that is neither a name nor a file is refused with the names."""
    with pytest.raises(UserError, match="default, driven, fluidsynth, mpe, puredata"):
        load_settings(preset)


def test_a_broken_preset_file_names_its_line(tmp_path: Path) -> None:
    """A file that is no YAML is told with file and line."""
    file = tmp_path / "mine.yaml"
    file.write_text("harp:\n  key: [C\n", encoding="utf-8")
    with pytest.raises(UserError, match=r"mine\.yaml:\d+: not valid YAML"):
        load_settings(str(file))


_VALUES = st.one_of(st.integers(), st.floats(), st.text(max_size=5), st.booleans(), st.none(), st.lists(st.integers()))


@given(st.sampled_from([*all_keys(Settings), "harp", "send.midi", "nonsense.key"]), _VALUES)
def test_any_value_for_any_key_loads_or_is_told_plainly(key: str, value: object) -> None:
    """Whatever is given for a setting is used or refused as a SettingError that names it; nothing else is raised."""
    said = _loaded_or_said(key, value)
    assert isinstance(said, Settings) or said.key.startswith(key.partition(".")[0])


def _loaded_or_said(key: str, value: object) -> Settings | SettingError:
    """The settings, or the error that says what is wrong."""
    try:
        return load_settings(flags={key: value})
    except SettingError as error:
        return error


def test_every_setting_says_what_it_is() -> None:
    """Each field of each model has a description, which help and messages use."""
    assert _undescribed(Settings) == []


def _undescribed(model: type[BaseModel]) -> list[str]:
    """Names of fields without a description, groups told by their own docstring left out."""
    found = []
    for name, field in model.model_fields.items():
        group = group_in(field.annotation)
        if group is not None:
            found += _undescribed(group)
        elif not field.description:
            found.append(f"{model.__name__}.{name}")
    return found


def test_the_folder_of_presets_holds_only_presets() -> None:
    """Every file in config/ is one of them; the layouts have a folder of their own."""
    assert {path.stem for path in resource_folder("config").iterdir()} == {*presets(), "layouts"}
