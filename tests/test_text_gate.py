"""What people write in files is read within limits; what is amiss is told with file, line and the
way out, and at once."""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path

import pytest

from companion.enroll.ways_file import WaysFile
from companion.errors import CompanionError
from companion.files.limits import DEEPEST, LARGEST_TEXT, MOST_TOLD
from companion.files.reading import bytes_of, json_of
from companion.files.toml_text import TomlFault, toml_in
from companion.replay import load_replay
from companion.settings import Settings, load_settings
from companion.shelf.load import load_card, load_sheet

MOST_SECONDS = 10.0
"""Of the processor: far more than any file takes, far less than those took that had no limit."""

READERS: dict[str, Callable[[Path], object]] = {
    "card.toml": load_card,
    "sheet.toml": load_sheet,
    "settings.toml": load_settings,
    "session.toml": lambda path: load_replay(path.parent),
    "ways.toml": lambda path: WaysFile(None, path).read(),
}
"""Every reader of TOML, by what its file may be called."""

STRING = '"""'
HOSTILE = {
    "a text left open at the top": (f"name = {STRING}\n" + "x = 1\n" * 150_000, 1),
    "a text left open below": (f'title = "t"\nname = {STRING}\n' + "x\n" * 150_000, 2),
    "a text that never ends, with escapes": (f"name = {STRING}" + '\\"""' * 200_000, 1),
    "a list left open": ('title = "t"\n\nname = [\n' + '"x",\n' * 150_000, 3),
    "deep lists": ('title = "t"\nname = ' + "[" * 100_000 + "]" * 100_000, 2),
    "deep tables": ("name = " + "{a = " * 10_000 + "1" + "}" * 10_000, 1),
    "a deep key": ('title = "t"\n' + ".".join(["a"] * 100_000) + " = 1", 2),
    "a deep header": ("[" + ".".join(["a"] * 100_000) + "]", 1),
    "a huge exponent": ('title = "t"\nspeed = 1e999999', 2),
    "a tiny exponent": ('title = "t"\nspeed = 1e-999999', 2),
    "a huge exponent of nothing": ("speed = 0e999999999", 1),
    "a number of many digits": ('title = "t"\n\nspeed = ' + "9" * 100_000, 3),
    "a number of many digits in hex": ("speed = 0x" + "f" * 100_000, 1),
    "a number of many decimals": ("speed = 0." + "3" * 100_000, 1),
    "a number within": ('title = "t"\nspeed = [1,\n2, {low = 1e400}]', 3),
    "bytes that are no text": (b'title = "t"\nname = "\xff"', 2),
    "a zero": (b'title = "\0"', 1),
    "UTF-16": ('title = "t"'.encode("utf-16"), 1),
}


def told(reader: Callable[[Path], object], path: Path) -> str:
    began = time.process_time()
    with pytest.raises(CompanionError) as error:
        reader(path)
    assert time.process_time() - began < MOST_SECONDS
    return str(error.value)


@pytest.mark.parametrize("kind", HOSTILE)
def test_what_cannot_be_read_is_refused_with_its_line_at_once(kind: str, tmp_path: Path) -> None:
    text, line = HOSTILE[kind]
    for name, reader in READERS.items():
        path = tmp_path / name
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        sentence = told(reader, path)
        if name == "ways.toml":
            assert sentence.startswith(f"{path}")
            assert f"line {line}: " in sentence or f":{line}: " in sentence
        else:
            assert sentence.startswith(f"{path}:{line}: "), sentence[:200]
        assert "\n" not in sentence
        assert len(sentence) < 400


@pytest.mark.parametrize("name", READERS)
def test_what_is_no_file_of_text_is_not_opened(name: str, tmp_path: Path) -> None:
    reader, path = READERS[name], tmp_path / name
    path.mkdir()
    assert str(path) in told(reader, path)
    path.rmdir()
    os.mkfifo(path)
    assert str(path) in told(reader, path)
    path.unlink()
    path.symlink_to("/dev/zero")
    assert str(path) in told(reader, path)
    path.unlink()
    path.symlink_to(path)
    told(reader, path)
    path.unlink()
    path.write_bytes(b"#" * (LARGEST_TEXT + 1))
    assert "larger than 1 MiB" in told(reader, path)


# The other readers are the same as the first.
@pytest.mark.parametrize("name", ["card.toml", "settings.toml", "ways.toml"])
def test_the_largest_file_is_refused_in_moments_and_few_words(name: str, tmp_path: Path) -> None:
    path = tmp_path / name
    lines = {
        "keys": "".join(f"k{number} = 1\n" for number in range(75_000)),
        "tables": "".join(f"[[t{number}]]\n" for number in range(75_000)),
        "one table": "[[step]]\n" * 110_000,
        "tables within": "[[a]]\n" + "".join(f"[[a.b{n}]]\n[[a]]\n" for n in range(40_000)),
        "a long key": f'{"k" * 1_000_000} = 1\nx = "{"y" * 10_000}"\n',
    }
    for kind, text in lines.items():
        path.write_text(text)
        sentence = told(READERS[name], path)
        assert sentence.count("\n") <= MOST_TOLD, kind
        assert len(sentence) < 20_000, kind


def test_what_people_write_is_read_as_before() -> None:
    text = 'a = """x "" y""""\nb = \'\'\'z\'\'\'\'\nc = [1, [2.50, "]"], {d = "}#"}] # [[[\n'
    text += '"k.l"=1e3\n'
    content, lines = toml_in(text)
    assert content["a"] == 'x "" y"'
    assert content["b"] == "z'"
    assert content["c"] == [1, [Decimal("2.50"), "]"], {"d": "}#"}]
    assert content["k.l"] == 1000
    assert lines.line_of(("c", 1)) == 3
    toml_in("a = " + "[" * DEEPEST + "]" * DEEPEST)
    with pytest.raises(TomlFault, match="one in another"):
        toml_in("a = " + "[" * (DEEPEST + 1) + "]" * (DEEPEST + 1))


def test_settings_that_are_named_must_be_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("BENCH_COMPANION_SETTINGS", str(tmp_path / "gone.toml"))
    with pytest.raises(CompanionError, match=r"gone\.toml: this settings file cannot be read"):
        load_settings()
    monkeypatch.setenv("BENCH_COMPANION_SETTINGS", os.devnull)
    assert load_settings() == Settings()
    monkeypatch.delenv("BENCH_COMPANION_SETTINGS")
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    assert load_settings() == Settings()
    (tmp_path / "bench-companion").mkdir()
    (tmp_path / "bench-companion" / "settings.toml").write_text("end_pause = 0.75\n")
    assert load_settings().end_pause == 0.75


@pytest.mark.parametrize("number", ["inf", "-inf", "nan", "1e400", "0e400"])
def test_a_setting_is_a_number_that_there_is(number: str, tmp_path: Path) -> None:
    path = tmp_path / "settings.toml"
    for key in ("end_pause", "air_temperature", "speech_rate"):
        for written in (number, f'"{number}"'):
            path.write_text(f"{key} = {written}\n")
            assert key in told(load_settings, path)


@pytest.mark.parametrize(
    "number", ["1e999999", "1e-999999", "1E+400", "9" * 5000, "0.1" + "3" * 90]
)
def test_no_number_of_a_sheet_or_card_is_beyond_what_a_measure_has(
    number: str, tmp_path: Path
) -> None:
    for written in (number, f'"{number}"'):
        sheet = tmp_path / "sheet.toml"
        sheet.write_text(
            'name = "trial"\nkind = "tiller"\n\n[[reading]]\nmeasure = "gap"\nunit = "thou"\n'
            f'low = {written}\nsource = "invented"\n'
        )
        sentence = told(load_sheet, sheet)
        assert sentence.startswith(f"{sheet}:7: ")
        card = tmp_path / "card.toml"
        card.write_text(
            'name = "trial"\ntitle = "Trial"\n\n[[step]]\nname = "wait"\nsay = "Wait."\n'
            f"minutes = {written}\n"
        )
        assert str(card) in told(load_card, card)


@pytest.mark.parametrize(
    ("line", "told_of"),
    [
        ("zork = 1", "unknown key 'zork'; the keys here are call_sign, "),
        ('call_sign = "Bench-2"', "'call_sign' must be lower-case words with a space between them"),
        ("air_temperature = 61", "'air_temperature' must be 60 or less"),
        ("board_port = -1", "'board_port' must be 0 or more"),
        ('push_to_talk = "sometimes"', "'push_to_talk' must be true or false"),
        ("microphone = [1]", "'microphone' must be a whole number"),
        (f'shop_name = "{"n" * 81}"', "'shop_name' must have no more than 80 letters"),
        ("model = 5", "'model' must be text in quotes"),
    ],
)
def test_a_setting_that_does_not_fit_is_told_with_its_line_and_what_fits(
    line: str, told_of: str, tmp_path: Path
) -> None:
    path = tmp_path / "settings.toml"
    path.write_text(f"# Ours.\n\n{line}\n")
    assert f"{path}:3: {told_of}" in told(load_settings, path)


def test_a_file_that_cannot_be_read_is_told_with_a_way_out(tmp_path: Path) -> None:
    (tmp_path / "list.json").mkdir()
    assert "name another file" in told(lambda path: bytes_of(path, "list", named=True), tmp_path)
    for data in (None, b"[" + b"9" * 5_000 + b"]", b"{"):
        path = tmp_path / "list.json"
        if data is not None:
            path = tmp_path / "other.json"
            path.write_bytes(data)
        sentence = told(lambda path: json_of(path, "list"), path)
        assert "put" in sentence
        assert "away" in sentence
        assert "sys." not in sentence
