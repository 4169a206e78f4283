"""The companion in a program of one's own: the code of ``docs/library.md`` run as it stands there,
on real sound."""

from __future__ import annotations

import re
import subprocess
import sys
from importlib.util import find_spec
from pathlib import Path

import numpy as np
import pytest
import soundfile

import companion
from companion import hear, load_grammar
from companion.audio.resample import resample
from companion.errors import CompanionError
from companion.files.sound_format import SAMPLE_RATE
from tests.sounds import speak, with_pauses

CHECKOUT = Path(__file__).parent.parent
PAGE = (CHECKOUT / "docs" / "library.md").read_text(encoding="utf-8")
LAMPS = """#JSGF V1.0;
grammar lamps;
public <call> = bench lamp (on {to=on} | off {to=off} | to <share> percent);
<share> = (ten | thirty | fifty | eighty) {share};
"""


def blocks(language: str) -> list[str]:
    return re.findall(rf"^```{language}\n(.*?)^```", PAGE, re.MULTILINE | re.DOTALL)


# --- the page ------------------------------------------------------------------------------------
def test_the_page_hears_in_five_lines() -> None:
    lines = [line for line in blocks("python")[0].splitlines() if line]
    assert len(lines) == 5
    assert lines[0] == "from companion import hear, load_grammar"


def test_what_the_page_says_is_what_happens(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "lamps.gram").write_text(blocks("jsgf")[0], encoding="utf-8")
    call = with_pauses(speak("bench lamp to fifty percent", "rms"))
    soundfile.write("call.wav", call, SAMPLE_RATE)
    names: dict[str, object] = {}
    for code in blocks("python"):
        exec(compile(code, "docs/library.md", "exec"), names)
    assert capsys.readouterr().out == "".join(blocks("text"))


# --- hearing -------------------------------------------------------------------------------------
@pytest.mark.parametrize("said", ["bench lamp on", "bench lamp off", "bench lamp to ten percent"])
@pytest.mark.parametrize("voice", ["slt", "gb"])
def test_each_sentence_of_a_small_grammar_is_told_from_the_others(said: str, voice: str) -> None:
    heard = hear(with_pauses(speak(said, voice)), load_grammar(LAMPS))
    assert heard.text == said
    assert heard.confidence > 0.5
    assert heard.hypotheses[0].text == said


@pytest.mark.parametrize("rate", [8_000, 22_050, 48_000])
def test_samples_of_any_rate_and_number_of_channels_are_heard(rate: int) -> None:
    samples = resample(with_pauses(speak("bench lamp off", "rms")), SAMPLE_RATE, rate)
    both = np.stack([samples, samples], axis=1).astype(np.float64)
    heard = hear(both, load_grammar(LAMPS), rate=rate)
    assert (heard.text, heard.tags) == ("bench lamp off", (("to", "off"),))


def test_another_grammar_is_listened_for_from_the_next_sound_on() -> None:
    sound = with_pauses(speak("gap thirty thou", "rms"))
    assert hear(sound, load_grammar(LAMPS)).confidence < 0.5
    assert hear(sound, load_grammar()).text == "gap thirty thou"
    assert hear(sound, load_grammar(LAMPS)).confidence < 0.5


def test_silence_is_nothing() -> None:
    heard = hear(np.zeros(2 * SAMPLE_RATE), load_grammar(LAMPS))
    assert (heard.text, heard.tags, heard.confidence) == ("", (), 0.0)
    assert heard.troubles == ("silent",)
    assert hear(np.zeros(0), load_grammar(LAMPS)).text == ""


# --- bad input -----------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("source", "says"),
    [
        ("no-such.gram", "no-such.gram"),
        ("#JSGF V1.0; grammar lamps;", "no public rule"),
        ("#JSGF V1.0; grammar lamps; public <call> = <lamp>;", "lamp"),
        ("#JSGF V1.0; grammar lamps; public <call> = (on;", "line 1"),
        ("#JSGF V1.0; grammar lamps; public <call> = " + "on " * 200_000 + ";", "shorter"),
    ],
)
def test_a_wrong_grammar_is_one_sentence(source: str, says: str) -> None:
    with pytest.raises(CompanionError, match=says) as raised:
        load_grammar(source)
    assert "\n" not in str(raised.value)


@pytest.mark.parametrize(
    ("sound", "rate", "says"),
    [
        ("no-such.wav", SAMPLE_RATE, "There is no sound file no-such.wav"),
        (np.zeros(100, np.int16), SAMPLE_RATE, "samples / 32768"),
        (np.zeros((2, 3, 4)), SAMPLE_RATE, "give \\(n,\\)"),
        (np.zeros(100), 100, "give 8000 to 768000"),
        (np.full(SAMPLE_RATE, np.nan), SAMPLE_RATE, ""),
    ],
)
def test_a_sound_that_cannot_be_used_is_one_sentence_or_nothing_heard(
    sound: str | np.ndarray, rate: int, says: str
) -> None:
    if not says:
        assert hear(sound, load_grammar(LAMPS), rate=rate).text == ""
        return
    with pytest.raises(CompanionError, match=says):
        hear(sound, load_grammar(LAMPS), rate=rate)


def test_a_recognizer_that_nobody_has_is_one_sentence() -> None:
    with pytest.raises(CompanionError, match="There is no recognizer 'parrot'"):
        hear(np.ones(SAMPLE_RATE) / 2, load_grammar(LAMPS), recognizer="parrot")


# --- the package ---------------------------------------------------------------------------------
def test_importing_the_package_loads_none_of_it() -> None:
    code = (
        "import sys, companion; dir(companion); "
        "print([name for name in sys.modules if name.startswith(('companion.', 'numpy'))])"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout == "[]\n"


def test_its_names_are_no_modules_of_it() -> None:
    """A module of the same name would take the place of the function once it is imported."""
    for name in set(companion.__all__) - {"__version__"}:
        assert find_spec(f"companion.{name}") is None
        assert name in dir(companion)


def test_a_name_that_it_does_not_have_is_an_attribute_error() -> None:
    assert not hasattr(companion, "listen")


def test_it_says_that_it_is_typed() -> None:
    assert Path(companion.__file__).with_name("py.typed").is_file()
