"""Makes the recordings of a session from its ``script.toml``, alike each time on one machine.

The technician is the "heart" voice that the package hibari-tts carries inside its wheel; the other
people and the radio are voices of flite. From the top of the checkout, with Debian's ``flite``:

    python -m pip install hibari-tts==0.2.1 soundfile soxr
    python demo_sessions/make_audio.py demo_sessions/generator-load-check

It is run by whoever changes a script, never by the program or its tests.
"""

from __future__ import annotations

import re
import sys
import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import soundfile

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from companion.files.sound_format import SAMPLE_RATE
from tests import sounds
from tests.sounds import Samples

CALL_PEAK = 0.45
"""Peak of every call, of full scale: a person half a meter from a desk microphone."""

LEAD_IN = 0.7
"""Seconds of room before the first line of a recording."""

USUAL_PAUSE = 2.4
"""Seconds after a line that names no pause of its own."""


def spoken_spelling(call: str) -> str:
    """Spell a call the way the voice reads it rightly: a breath after the call sign, "thou" as in
    "thousand", the letters of a unit as letters.
    """
    text = re.sub(r"^bench ", "bench, ", call)
    text = re.sub(r"^(bench, )?note ", r"\1note. ", text)
    text = re.sub(r"\b(p s i|r p m)\b", lambda unit: unit[0].upper(), text)
    text = text.replace(" thou", " [thou](/θˈW/)")
    return text[0].upper() + text[1:] + "."


def technician(text: str, seed: int) -> Samples:
    """Speak a line with the technician's voice."""
    from hibari import Hibari

    said = Hibari()(spoken_spelling(text), seed=seed)
    return sounds.resample(np.asarray(said, dtype=np.float32), 24_000)


def other(text: str, voice: dict[str, Any]) -> Samples:
    """Speak a line with another voice, through a small loudspeaker where it has a band."""
    said = sounds.speak(text, voice["name"])
    if "band" in voice:
        low, high = voice["band"]
        spectrum = np.fft.rfft(said)
        frequency = np.fft.rfftfreq(len(said), 1 / SAMPLE_RATE)
        spectrum[(frequency < low) | (frequency > high)] = 0
        said = np.fft.irfft(spectrum, len(said)).astype(np.float32)
    return said


def at_peak(samples: Samples, below: float) -> Samples:
    """The samples with their peak so many dB below that of a call."""
    gain = CALL_PEAK * 10 ** (-below / 20) / float(np.abs(samples).max())
    return (samples * np.float32(gain)).astype(np.float32)


def record(recording: dict[str, Any], voices: dict[str, Any], seed: int) -> Samples:
    """Put one recording together."""
    pieces = [sounds.pause(LEAD_IN)]
    calls = []
    for number, line in enumerate(recording["line"]):
        if "noise" in line:
            noise = sounds.NOISES[line["noise"]](line["seconds"], seed=seed + number)
            pieces.append(at_peak(noise, below=6.0))
        elif "talk" in line:
            voice = voices[line["by"]]
            pieces.append(at_peak(other(line["talk"], voice), below=voice["below"]))
        else:
            said = technician(line.get("call") or line["note"], seed + number)
            pieces.append(at_peak(said, below=0.0))
            calls.append(pieces[-1])
        pieces.append(sounds.pause(line.get("pause", USUAL_PAUSE)))
    whole = np.concatenate(pieces)
    under = recording["under"]
    noise = sounds.NOISES[under["noise"]](len(whole) / SAMPLE_RATE, seed=seed)
    # The ratio holds for the calls, whatever else is heard in between.
    gain = sounds.noise_gain(np.concatenate(calls or pieces), noise, under["below"])
    return (whole + np.resize(noise, len(whole)) * np.float32(gain)).astype(np.float32)


def main(folder: Path) -> None:
    """Write every recording that the script in a folder describes."""
    script = tomllib.loads((folder / "script.toml").read_text(encoding="utf-8"))
    total = 0.0
    for number, recording in enumerate(script["recording"], start=1):
        samples = record(recording, script["voices"], seed=1000 * number)
        path = folder / recording["file"]
        path.parent.mkdir(exist_ok=True)
        soundfile.write(path, np.clip(samples, -0.98, 0.98), SAMPLE_RATE, subtype="PCM_16")
        total += len(samples) / SAMPLE_RATE
        print(f"{recording['file']}: {len(samples) / SAMPLE_RATE:.1f} s")
    print(f"{total:.0f} seconds in all")


if __name__ == "__main__":
    if len(sys.argv) != 2 or not (Path(sys.argv[1]) / "script.toml").is_file():
        sys.exit("Name a folder that holds a script.toml.")
    main(Path(sys.argv[1]))
