"""The model's weights: read once, given to the engine without what it does not need."""

from __future__ import annotations

import shutil
import struct
from functools import cache
from pathlib import Path

import ctranslate2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.recognize.embeddings import COMMON, Embeddings
from companion.recognize.encoder_changes import encoder_changes
from companion.recognize.held import HeldRecognizer, window_frames
from companion.recognize.mel import log_mel
from companion.recognize.model import packaged_folder
from companion.recognize.protocol import ModelDamaged
from companion.recognize.weights import WeightFile, WeightFileError
from tests.sounds import speak, with_pauses
from tools.hearing.measure import ears_of


@cache
def packaged() -> WeightFile:
    return WeightFile((packaged_folder() / "model.bin").read_bytes())


def named(name: str) -> bytes:
    data = name.encode() + b"\0"
    return struct.pack("<H", len(data)) + data


def small_file() -> bytes:
    """A model file with one weight of two by three, half precision, and a scalar."""
    weight = np.arange(6, dtype=np.float16)
    return b"".join(
        (
            struct.pack("<I", 6) + named("WhisperSpec") + struct.pack("<II", 3, 2),
            named("encoder/weight") + struct.pack("<BIIBI", 2, 2, 3, 4, 12) + weight.tobytes(),
            named("decoder/num_heads") + struct.pack("<BBIh", 0, 2, 2, 6),
            struct.pack("<I", 1) + named("decoder/projection") + named("decoder/embeddings"),
        )
    )


def test_a_file_written_again_is_the_file() -> None:
    data = small_file()
    assert WeightFile(data).encoder_alone({}) == data


@given(st.data())
def test_a_file_cut_short_anywhere_is_refused(data: st.DataObject) -> None:
    whole = small_file()
    cut = whole[: data.draw(st.integers(0, len(whole) - 1))]
    with pytest.raises(WeightFileError):
        WeightFile(cut)


def test_weights_of_eight_bits_are_multiplied_out() -> None:
    weight, scale = np.array([[10, -20]], dtype=np.int8), np.array([2.0], dtype=np.float32)
    data = b"".join(
        (
            struct.pack("<I", 6) + named("WhisperSpec") + struct.pack("<II", 3, 2),
            named("decoder/weight") + struct.pack("<BIIBI", 2, 1, 2, 1, 2) + weight.tobytes(),
            named("decoder/weight_scale") + struct.pack("<BIBI", 1, 1, 0, 4) + scale.tobytes(),
            struct.pack("<I", 0),
        )
    )
    assert WeightFile(data).floats("decoder/")["weight"].tolist() == [[5.0, -10.0]]


def test_what_was_fitted_is_added_and_rounded_as_the_file_has_it() -> None:
    change = np.full((2, 3), 0.1, dtype=np.float32)
    alone = WeightFile(WeightFile(small_file()).encoder_alone({"encoder/weight": change}))
    expected = (np.arange(6, dtype=np.float32).reshape(2, 3) + change).astype(np.float16)
    assert np.array_equal(alone.variables["encoder/weight"], expected)


def test_what_fits_no_variable_is_refused() -> None:
    file = WeightFile(small_file())
    with pytest.raises(WeightFileError, match="no variable 'encoder/other'"):
        file.encoder_alone({"encoder/other": np.zeros((2, 3), dtype=np.float32)})
    with pytest.raises(WeightFileError, match="shape"):
        file.encoder_alone({"encoder/weight": np.zeros((3, 2), dtype=np.float32)})


def test_every_change_that_is_shipped_changes_the_encoder() -> None:
    changes = encoder_changes()
    alone = WeightFile(packaged().encoder_alone(changes))
    for name, values in packaged().variables.items():
        if name.startswith("encoder/"):
            same = np.array_equal(alone.variables[name], values)
            assert same == (name not in changes), name


def test_the_engine_encodes_alike_with_a_decoder_of_no_use() -> None:
    samples = with_pauses(speak("gap thirty thou", "slt"))
    features = ctranslate2.StorageView.from_array(log_mel(samples, 500)[np.newaxis])

    def encoded(**files: object) -> np.ndarray[tuple[int, ...], np.dtype[np.float32]]:
        engine = ctranslate2.models.Whisper(
            str(packaged_folder()), compute_type="int8", intra_threads=1, **files
        )
        return np.array(engine.encode(features, to_cpu=True))

    alone = packaged().encoder_alone({})
    assert len(alone) < 20_000_000
    files = {"model.bin": alone, "config.json": b"{}", "vocabulary.txt": b"<|endoftext|>\n"}
    assert np.array_equal(encoded(files=files), encoded())


@given(st.lists(st.integers(0, COMMON + 99), min_size=1, max_size=8))
def test_every_token_has_its_row(tokens: list[int]) -> None:
    weight = np.arange((COMMON + 100) * 2).reshape(-1, 2).astype(np.float32)
    rows = Embeddings(weight).of(np.array([tokens]))
    assert rows.dtype == np.float32
    assert np.array_equal(rows, weight[np.array([tokens])])


def test_a_note_is_heard_also_where_its_draft_cannot_be_made_well(tmp_path: Path) -> None:
    """The engine that drafts notes is loaded by the first of them: the weights may have been
    changed since the session began."""
    ears, grammar = ears_of("whisper")
    assert isinstance(ears, HeldRecognizer)
    ears.listen_for(grammar)
    model = ears._model
    note = with_pauses(speak("note the guard is loose", "rms"))
    encoded = model.encode(note, window_frames(len(note)))
    well = ears.recognize(note)
    assert well.transcript == model.transcribe(encoded)
    writer, weights = model._writer, model._weights
    model._writer, model._weights = None, tmp_path / "model.bin"
    try:
        shutil.copy(weights, model._weights)
        with model._weights.open("r+b") as file:
            file.truncate(1_000_000)
        with pytest.raises(ModelDamaged, match="force-reinstall"):
            model.transcribe(encoded)
        quick = ears.recognize(note)
    finally:
        model._writer, model._weights = writer, weights
    assert quick.hypotheses == well.hypotheses
    assert quick.transcript is not None
    assert "guard" in quick.transcript.lower()
