"""The packaged model as it is, in the form that the fitting reads, and a check of it.

The weights are those of the file, without what the program adds to them when it loads them
(``companion/recognize/encoder_changes.py``): whoever fits again begins where all began.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from pathlib import Path

import ctranslate2
import numpy as np
from numpy.typing import NDArray

from companion.recognize.decoder import Decoder
from companion.recognize.mel import log_mel, mel_filters
from companion.recognize.model import WhisperModel, packaged_folder
from companion.recognize.weights import WeightFile
from tests.sounds import speak
from tools.fit_encoder.layout import CHECK, MEL, MODEL, Clip, Ways

COMMONEST = 4000
"""Tokens that are kept whether said or not, so that the decoder may err as it does."""
CHECK_FRAMES = 500
"""Of 10 ms: five seconds."""


def write_model(folder: Path, model: WhisperModel, clips: Sequence[Clip]) -> list[Clip]:
    """Write the weights, the filters and the check.

    Args:
        folder: To fit on.
        model: Makes tokens; its encoder is not asked.
        clips: Whose tokens are kept.

    Returns:
        The clips, their tokens by the places of those that are kept.
    """
    weights = WeightFile((packaged_folder() / "model.bin").read_bytes())
    encoder, decoder = (weights.floats(part) for part in ("encoder/", "decoder/"))
    check, likeliest = _check(model.start, Decoder(decoder))
    used = {
        token
        for clip in clips
        for ways in (clip.tokens, *(rival.tokens for rival in clip.rivals))
        for way in ways
        for token in way
    }
    kept = sorted(used | set(range(COMMONEST)) | {*model.start, model.end, *likeliest})
    place = {token: number for number, token in enumerate(kept)}
    arrays: dict[str, NDArray[np.generic]] = {
        f"{part}/{name}": array.astype(np.float16)
        for part, variables in (("encoder", encoder), ("decoder", decoder))
        for name, array in variables.items()
        if array.ndim and not (part == "decoder" and name.startswith("embeddings"))
    }
    arrays["embeddings"] = decoder["embeddings/weight"][kept].astype(np.float16)
    arrays["start"] = np.array([place[token] for token in model.start])
    arrays["end"] = np.array(place[model.end])
    np.savez(folder / MODEL, **arrays)  # type: ignore[arg-type]
    np.save(folder / MEL, mel_filters())
    check["next"] = np.array([place[token] for token in likeliest])
    np.savez(folder / CHECK, **check)  # type: ignore[arg-type]
    return [
        dataclasses.replace(
            clip,
            tokens=_placed(clip.tokens, place),
            rivals=tuple(
                dataclasses.replace(rival, tokens=_placed(rival.tokens, place))
                for rival in clip.rivals
            ),
        )
        for clip in clips
    ]


def _placed(ways: Ways, place: Mapping[int, int]) -> Ways:
    return tuple(tuple(place[token] for token in way) for way in ways)


def _check(
    start: Sequence[int], decoder: Decoder
) -> tuple[dict[str, NDArray[np.generic]], list[int]]:
    """A call, its features and encoding by the engine, and the three likeliest first tokens."""
    samples = speak("gap thirty thou", "gb")
    features = log_mel(samples, CHECK_FRAMES)
    engine = ctranslate2.models.Whisper(str(packaged_folder()), device="cpu", compute_type="int8")
    view = ctranslate2.StorageView.from_array(features[np.newaxis])
    encoded = np.array(engine.encode(view, to_cpu=True))[0]
    sound = decoder.listen(encoded[np.newaxis])
    state = decoder.read(sound, decoder.begin(sound), np.array([start]))[0, 0, -1]
    likeliest = np.argsort(-(decoder.embeddings.common @ state))[:3]
    return {"samples": samples, "mel": features, "encoded": encoded}, [int(t) for t in likeliest]
