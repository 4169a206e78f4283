"""Sounds made for tests: calls spoken by free synthetic voices, and the noises of a shop.

Everything is 16 kHz mono float32, and the same arguments give the same samples on the same machine.
The voices come from Debian packages; where one is missing the test fails and says which.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import tempfile
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Any, Literal

import numpy as np
import soundfile
import soxr
from numpy.typing import NDArray

from companion.files.sound_format import SAMPLE_RATE

Samples = NDArray[np.float32]

NOISE_RMS = 0.1
"""Root mean square of every noise as made; ``mix`` scales it to the wanted ratio."""


# --- voices ---
@dataclass(frozen=True, slots=True)
class Voice:
    """A synthetic voice.

    Attributes:
        engine: The program that speaks.
        name: The voice as that program names it.
    """

    engine: Literal["flite", "espeak-ng", "festival", "hibari"]
    name: str


VOICES: Mapping[str, Voice] = MappingProxyType(
    {
        "slt": Voice("flite", "slt"),
        "rms": Voice("flite", "rms"),
        "awb": Voice("flite", "awb"),
        "kal": Voice("festival", "kal_diphone"),
        "slt-hts": Voice("festival", "cmu_us_slt_arctic_hts"),
        "us": Voice("espeak-ng", "en-us"),
        "us-man": Voice("espeak-ng", "en-us+m3"),
        "us-woman": Voice("espeak-ng", "en-us+f2"),
        "gb": Voice("espeak-ng", "en-gb"),
        "scotland": Voice("espeak-ng", "en-gb-scotland"),
        "heart": Voice("hibari", "heart"),
    }
)
"""Voices by short name: flite (slt, rms, awb), festival (kal, slt-hts), a neural one (heart),
espeak-ng (the others)."""

PACKAGES = {
    "flite": "flite",
    "espeak-ng": "espeak-ng",
    "festival": "festival festvox-kallpc16k festvox-us-slt-hts",
}


def speak(text: str, voice: str = "slt", *, rate: float = 1.0) -> Samples:
    """Speak ``text`` as a person in the trade would, with the silence around it cut off.

    "thou" is said as in "thousand", not as the old pronoun.

    Args:
        text: Words; letters of a unit apart, as the grammar has them ("p s i").
        voice: A key of ``VOICES``.
        rate: 1 is the voice's own pace; 1.25 is a quarter faster.

    Returns:
        Shape (n,), peak about 0.5.

    Raises:
        AssertionError: If the program or the voice is not installed; names the Debian package.
    """
    return _speak(text, VOICES[voice], rate).copy()


@cache
def _speak(text: str, voice: Voice, rate: float) -> Samples:
    if voice.engine == "hibari":
        return _level(_trim(_neural(text, rate)), peak=0.5)
    if shutil.which(voice.engine) is None:
        raise AssertionError(_missing(voice))
    with tempfile.TemporaryDirectory() as folder:
        wave = Path(folder) / "speech.wav"
        command, stdin = _COMMANDS[voice.engine](text, voice.name, rate, wave)
        run = subprocess.run(command, input=stdin, capture_output=True, text=True, check=False)
        if run.returncode != 0 or not wave.exists() or wave.stat().st_size <= 44:
            raise AssertionError(f"{_missing(voice)} {run.stderr.strip()}")
        samples, sample_rate = soundfile.read(wave, dtype="float32")
    return _level(_trim(resample(samples, sample_rate)), peak=0.5)


def _missing(voice: Voice) -> str:
    return (
        f"The voice '{voice.name}' of {voice.engine} cannot speak here; "
        f"install it with: apt-get install {PACKAGES[voice.engine]}."
    )


def _flite(text: str, name: str, rate: float, wave: Path) -> tuple[list[str], str | None]:
    lexicon = wave.with_suffix(".lex")
    lexicon.write_text('"thou" nil : th aw1\n', encoding="ascii")
    command = ["flite", "-add_lex", str(lexicon), "-voice", name]
    command += ["--setf", f"duration_stretch={1 / rate:.3f}", "-t", text, "-o", str(wave)]
    return command, None


def _espeak(text: str, name: str, rate: float, wave: Path) -> tuple[list[str], str | None]:
    # 160 words a minute is near the pace of the other voices; espeak-ng's own default is 175.
    pace = str(round(160 * rate))
    return ["espeak-ng", "-v", name, "-s", pace, "-w", str(wave), for_espeak(text)], None


def for_espeak(text: str) -> str:
    """Return a text as espeak-ng must have it to say "thou" as in "thousand"."""
    return " ".join("[[T'aU]]" if word == "thou" else word for word in text.split())


def _festival(text: str, name: str, rate: float, wave: Path) -> tuple[list[str], str | None]:
    quoted = text.replace("\\", "").replace('"', "")
    script = f"""
(voice_{name})
(lex.add.entry '("thou" nil (((th aw) 1))))
(Parameter.set 'Duration_Stretch {1 / rate:.3f})
(utt.save.wave (utt.synth (Utterance Text "{quoted}")) "{wave}" 'riff)
"""
    return ["festival", "--pipe"], script


def _neural(text: str, rate: float) -> Samples:
    """The neural voice that the package hibari-tts carries (Apache License 2.0)."""
    speaker = _neural_voice()
    spelled = re.sub(r"\b(p s i|r p m)\b", lambda unit: unit[0].upper(), text)
    phonemes = " ".join(speaker.phonemize(spelled))
    if "thou" in text.split():
        phonemes = re.sub("ð(ˈ?)W", r"θ\1W", phonemes)
    return resample(speaker.from_phonemes(phonemes, speed=rate, seed=0), speaker.sample_rate)


@cache
def _neural_voice() -> Any:
    try:
        from hibari import Hibari
    except ImportError as error:
        raise AssertionError("Install the neural voice with: pip install '.[hearing]'.") from error
    return Hibari()


_COMMANDS: Mapping[str, Callable[[str, str, float, Path], tuple[list[str], str | None]]] = {
    "flite": _flite,
    "espeak-ng": _espeak,
    "festival": _festival,
}


# --- noises ---
def pink_noise(seconds: float, *, seed: int = 0) -> Samples:
    """Noise whose power falls by 3 dB an octave, from 20 Hz up: wind, a far road, an empty shop."""
    return _finish(_pink(_count(seconds), np.random.default_rng(seed)))


def idling_engine(seconds: float, *, rpm: float = 1750.0, seed: int = 0) -> Samples:
    """A one-cylinder four-stroke: a firing every second revolution, valve train, and fan.

    Args:
        seconds: Length.
        rpm: Mean engine speed; a governor hunts some 2 % around it.
        seed: Of the jitter from one firing to the next.
    """
    random = np.random.default_rng(seed)
    count = _count(seconds)
    sound = 0.25 * _pink(count, random)
    firing = _decaying(((62.0, 0.050, 1.0), (118.0, 0.035, 0.8), (240.0, 0.020, 0.6)), random)
    firing += _burst(0.030, random, strength=0.8)
    tick = _decaying(((2300.0, 0.004, 0.25), (3900.0, 0.003, 0.2)), random)
    time, interval = 0.0, 120.0 / rpm
    while time < seconds:
        hunting = 1 + 0.02 * np.sin(2 * np.pi * 0.4 * time)
        _add(sound, firing, time, strength=random.normal(1.0, 0.15))
        _add(sound, tick, time + 0.28 * interval, strength=random.normal(1.0, 0.2))
        _add(sound, tick, time + 0.71 * interval, strength=random.normal(1.0, 0.2))
        time += interval * hunting * random.normal(1.0, 0.03)
    return _finish(sound)


def air_compressor(seconds: float, *, rpm: float = 1060.0, seed: int = 0) -> Samples:
    """A belt-driven piston compressor: knocks of the pump, reed valves, motor hum, leaking air."""
    random = np.random.default_rng(seed)
    count = _count(seconds)
    sound = 0.5 * _pink(count, random) + 0.4 * mains_hum(seconds, seed=seed)[:count] / NOISE_RMS
    knock = _decaying(((85.0, 0.040, 1.0), (410.0, 0.018, 0.6), (830.0, 0.010, 0.4)), random)
    knock += _burst(0.045, random, strength=0.5)
    time = 0.0
    while time < seconds:
        _add(sound, knock, time, strength=1.6 * random.normal(1.0, 0.08))
        time += 60.0 / rpm * random.normal(1.0, 0.005)
    return _finish(sound)


def mains_hum(seconds: float, *, mains: float = 60.0, seed: int = 0) -> Samples:
    """Transformer hum: twice the mains frequency and its harmonics, with a little hiss."""
    random = np.random.default_rng(seed)
    count = _count(seconds)
    time = np.arange(count) / SAMPLE_RATE
    sound = 0.05 * random.standard_normal(count)
    for harmonic, strength in enumerate((0.3, 1.0, 0.15, 0.5, 0.1, 0.3, 0.05, 0.15), start=1):
        phase = random.uniform(0, 2 * np.pi)
        sound += strength * np.sin(2 * np.pi * mains * harmonic * time + phase)
    return _finish(sound)


def clanks(seconds: float, *, per_second: float = 1.2, seed: int = 0) -> Samples:
    """Steel on steel at random moments: wrenches dropped, a hammer, a tray of bolts."""
    random = np.random.default_rng(seed)
    sound = 0.02 * _pink(_count(seconds), random)
    for time in np.sort(random.uniform(0, seconds, max(1, round(per_second * seconds)))):
        root = random.uniform(700, 2400)
        # Partials of a free bar, 1 : 2.76 : 5.40: why struck steel does not sound like a string.
        modes = tuple(
            (root * ratio, random.uniform(0.03, 0.15), 1 / ratio) for ratio in (1, 2.756, 5.404)
        )
        struck = _decaying(modes, random) + _burst(0.006, random, strength=1.0)
        _add(sound, struck, float(time), strength=random.uniform(0.4, 1.5))
    return _finish(sound)


def babble(seconds: float, *, seed: int = 0) -> Samples:
    """Several people talking at once somewhere in the shop, none of them to the companion."""
    random = np.random.default_rng(seed)
    count = _count(seconds)
    sound = 0.01 * _pink(count, random)
    for voice in ("slt", "rms", "awb", "us-man", "gb"):
        time = -random.uniform(0, 2)
        while time < seconds:
            said = speak(_TALK[int(random.integers(len(_TALK)))], voice)
            _add(sound, said.astype(np.float64), time, strength=random.uniform(0.6, 1.2))
            time += len(said) / SAMPLE_RATE + random.uniform(0.1, 0.6)
    return _finish(sound)


_TALK = (
    "so I told him the weather would hold until the weekend at least",
    "did you see where the dog went with that glove",
    "they want it back before the fair and nobody has looked at it",
    "the radio says there is rain coming up the valley by evening",
    "put the kettle on and then come and hold this end",
    "my sister grew tomatoes the size of a fist last summer",
)

NOISES: Mapping[str, Callable[..., Samples]] = MappingProxyType(
    {
        "pink": pink_noise,
        "engine": idling_engine,
        "compressor": air_compressor,
        "hum": mains_hum,
        "clanks": clanks,
        "babble": babble,
    }
)
"""Every noise by short name; each takes seconds and ``seed``."""


# --- putting together ---
def mix(speech: Samples, noise: Samples, snr_db: float) -> Samples:
    """Lay noise under speech.

    Args:
        speech: Shape (n,). Only stretches in which something is said count for its power, so that
            pauses do not make the mixture noisier than its number says.
        noise: Shape (m,); repeated or cut to fit.
        snr_db: Power of speech over power of noise, in dB.

    Returns:
        Shape (n,); both scaled down together where the sum would clip.
    """
    fitted = np.resize(noise, len(speech)).astype(np.float64)
    mixed = speech + noise_gain(speech, noise, snr_db) * fitted
    return np.asarray(mixed / max(1.0, float(np.abs(mixed).max()) / 0.98), dtype=np.float32)


def noise_gain(speech: Samples, noise: Samples, snr_db: float) -> float:
    """What to multiply noise by so that it lies ``snr_db`` below speech; see ``mix``."""
    frames = speech[: len(speech) // 320 * 320].reshape(-1, 320).astype(np.float64)
    powers = np.mean(frames**2, axis=1)
    spoken = float(np.mean(powers[powers > 0.01 * powers.max()]))
    return float(np.sqrt(spoken / np.mean(noise.astype(np.float64) ** 2) / 10 ** (snr_db / 10)))


def pause(seconds: float) -> Samples:
    """Digital silence."""
    return np.zeros(_count(seconds), dtype=np.float32)


def with_pauses(samples: Samples, before: float = 0.3, after: float = 0.7) -> Samples:
    """Samples with silence before and after, in seconds."""
    return np.concatenate([pause(before), samples, pause(after)])


def resample(samples: NDArray[np.float32], sample_rate: int) -> Samples:
    """Mono at ``SAMPLE_RATE`` from shape (n,) or (n, channels) at ``sample_rate``."""
    mono = samples.mean(axis=1) if samples.ndim == 2 else samples
    return np.asarray(soxr.resample(mono, sample_rate, SAMPLE_RATE), dtype=np.float32)


# --- inside ---
_EVENT_SECONDS = 0.8
"""Length of one knock or clank: five times the longest time constant and a little more."""


def _count(seconds: float) -> int:
    return round(seconds * SAMPLE_RATE)


def _trim(samples: Samples) -> Samples:
    loud = np.flatnonzero(np.abs(samples) > 0.01 * np.abs(samples).max())
    return samples[loud[0] : loud[-1] + 1] if len(loud) else samples


def _level(samples: Samples, *, peak: float) -> Samples:
    return samples * np.float32(peak / max(1e-9, float(np.abs(samples).max())))


def _finish(sound: NDArray[np.float64]) -> Samples:
    quiet = sound - sound.mean()
    return np.asarray(quiet * (NOISE_RMS / np.sqrt(np.mean(quiet**2))), dtype=np.float32)


def _pink(count: int, random: np.random.Generator) -> NDArray[np.float64]:
    spectrum = np.fft.rfft(random.standard_normal(count))
    frequency = np.fft.rfftfreq(count, 1 / SAMPLE_RATE)
    spectrum *= np.where(frequency < 20, 0, 1 / np.sqrt(np.maximum(frequency, 20)))
    sound = np.fft.irfft(spectrum, count)
    return np.asarray(sound / np.sqrt(np.mean(sound**2)))


def _decaying(
    modes: tuple[tuple[float, float, float], ...], random: np.random.Generator
) -> NDArray[np.float64]:
    """A sum of dying vibrations, each (frequency in Hz, time constant in s, strength)."""
    time = np.arange(_count(_EVENT_SECONDS)) / SAMPLE_RATE
    sound = np.zeros(len(time))
    for frequency, decay, strength in modes:
        if frequency < SAMPLE_RATE / 2:
            phase = random.uniform(-0.3, 0.3)
            sound += strength * np.exp(-time / decay) * np.sin(2 * np.pi * frequency * time + phase)
    return sound


def _burst(decay: float, random: np.random.Generator, *, strength: float) -> NDArray[np.float64]:
    """A puff of noise that dies with the time constant ``decay``, in seconds."""
    time = np.arange(_count(_EVENT_SECONDS)) / SAMPLE_RATE
    return np.asarray(strength * np.exp(-time / decay) * random.standard_normal(len(time)))


def _add(
    sound: NDArray[np.float64], event: NDArray[np.float64], at: float, *, strength: float
) -> None:
    begin = round(at * SAMPLE_RATE)
    first = max(0, -begin)
    last = min(len(event), len(sound) - begin)
    if last > first:
        sound[begin + first : begin + last] += strength * event[first:last]
