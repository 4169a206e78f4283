"""What is kept of a person's voice: a JSON file and the clips, in the data folder, nowhere else."""

from __future__ import annotations

import base64
import re
import shutil
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import AwareDatetime, BaseModel, ConfigDict, Field, ValidationError

from companion.errors import CompanionError, WrongUse
from companion.files.data import data_folder
from companion.files.disk import replace_file
from companion.files.limits import LARGEST_VOICE
from companion.files.plain import plain_bytes, stands_there
from companion.recognize.held import HeldRecognizer
from companion.recognize.phonemes import KINDS, LastLayer, network_sha256
from companion.recognize.protocol import Recognizer

FOLDER = "voices"
"""Inside the data folder."""
_NAME = re.compile(r"[^\W_]([^\W_]|[ '-])*")
_LONGEST_NAME = 40


class EnrolledCall(BaseModel):
    """One call of the page.

    Attributes:
        said: What the page asked for.
        clip: The sound, as a path inside the person's folder.
        heard: What it was taken for, before anything was fitted.
        clip_sha256: Of that file, in lower-case hex; None where it was kept before that was.
        outcome: What would have become of it: recorded rightly, asked about rightly, to be said
            again, ignored, or recorded as something else.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

    said: str
    clip: str
    heard: str
    outcome: Literal["right", "asked", "say-again", "ignored", "wrong"]
    clip_sha256: str | None = None


class VoiceProfile(BaseModel):
    """One person's voice.

    Attributes:
        v: Version of this form.
        name: As the person gave it.
        made: When.
        model: SHA-256 of the recognizer's weights that it was fitted to.
        network: SHA-256 of the phoneme network's weights that it was fitted to.
        calls: The page as it was read.
        weight: The fitted last layer in base64, 32-bit floats; None where fitting did not help.
        bias: Its bias, likewise.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

    v: Literal[1] = 1
    name: str
    made: AwareDatetime
    model: str
    network: str
    calls: tuple[EnrolledCall, ...] = Field(min_length=1)
    weight: str | None = None
    bias: str | None = None

    def layer(self) -> LastLayer | None:
        """The fitted last layer, or None.

        Raises:
            ValueError: If it is not whole.
        """
        if self.weight is None or self.bias is None:
            return None
        weight, bias = _floats(self.weight).reshape(-1, KINDS), _floats(self.bias)
        if len(bias) != KINDS or not (np.isfinite(weight).all() and np.isfinite(bias).all()):
            raise ValueError("the fitted layer is damaged")
        return LastLayer(weight, bias)


def in_base64(values: NDArray[np.float32]) -> str:
    """An array as text."""
    return base64.b64encode(values.astype("<f4").tobytes()).decode("ascii")


def _floats(text: str) -> NDArray[np.float32]:
    return np.frombuffer(base64.b64decode(text, validate=True), dtype="<f4").astype(np.float32)


def voice_paths(name: str) -> tuple[Path, Path]:
    """Where a person's file is, and the folder of the clips; neither need exist.

    Raises:
        WrongUse: If this cannot be a name.
    """
    if not _NAME.fullmatch(name) or len(name) > _LONGEST_NAME:
        raise WrongUse(
            f"{name!r} cannot name a voice; use at most {_LONGEST_NAME} letters, digits, spaces "
            "and hyphens, a letter or digit first."
        )
    stem = as_file_name(name)
    folder = data_folder() / FOLDER
    return folder / f"{stem}.json", folder / stem


def as_file_name(name: str) -> str:
    """Return a person's name as files are named by it: "Rosa" and "rosa" are one."""
    return name.strip().casefold().replace(" ", "-")


def save_voice(profile: VoiceProfile) -> Path:
    """Write a person's file, whole or not at all, and return its path.

    Raises:
        CompanionError: If it cannot be written.
    """
    path, _ = voice_paths(profile.name)
    try:
        replace_file(path, profile.model_dump_json(indent=1).encode())
    except OSError as error:
        raise CompanionError(
            f"The voice cannot be written to {path} ({error.strerror}); free some space or mend "
            "the folder's permissions."
        ) from None
    return path


def load_voice(name: str) -> VoiceProfile:
    """Read a person's file.

    Raises:
        WrongUse: If this cannot be a name.
        CompanionError: If there is none, or it is damaged.
    """
    path, _ = voice_paths(name)
    try:
        data = plain_bytes(path, LARGEST_VOICE)
        profile = VoiceProfile.model_validate_json(data)
        profile.layer()
    except FileNotFoundError:
        raise CompanionError(
            f"No voice '{name}' is enrolled; enroll it with: companion enroll '{name}'"
        ) from None
    except OSError as error:
        raise CompanionError(f"{path}: cannot be read ({error.strerror}); mend it.") from None
    except (ValidationError, ValueError, RecursionError):
        raise CompanionError(
            f"{path}: the voice is damaged; remove it with 'companion enroll --remove' and its "
            "name, then enroll it again."
        ) from None
    return profile


def enrolled_voices() -> list[str]:
    """Return the names by which the voices that are enrolled can be asked for.

    Raises:
        CompanionError: If the data folder cannot be read.
    """
    folder = data_folder() / FOLDER
    try:
        return sorted(path.stem for path in folder.iterdir() if path.suffix == ".json")
    except FileNotFoundError:
        return []
    except OSError as error:
        raise CompanionError(
            f"{folder}: cannot be read ({error.strerror}); mend its permissions."
        ) from None


def remove_voice(name: str) -> bool:
    """Remove a person's file and clips; whether there were any.

    Raises:
        CompanionError: If they cannot be removed.
    """
    path, clips = voice_paths(name)
    found = stands_there(path) or stands_there(clips)
    try:
        path.unlink(missing_ok=True)
        if clips.is_symlink():
            clips.unlink()
        elif stands_there(clips):
            shutil.rmtree(clips)
    except OSError as error:
        raise CompanionError(f"{path}: cannot be removed ({error.strerror}).") from None
    return found


def use_voice(recognizer: Recognizer, profile: VoiceProfile) -> None:
    """Let a recognizer hear as this person speaks.

    Raises:
        CompanionError: If the voice was fitted to another recognizer.
    """
    name = profile.name
    if not isinstance(recognizer, HeldRecognizer):
        raise CompanionError(
            f"The voice '{name}' is for the Whisper recognizer; leave out --voice, or choose that "
            "one with --recognizer whisper."
        )
    if (profile.model, profile.network) != (recognizer.model_sha256, network_sha256()):
        raise CompanionError(
            f"The voice '{name}' was fitted to another model; fit it anew from its clips with: "
            f"companion enroll '{name}' --again"
        )
    layer = profile.layer()
    if layer is not None:
        recognizer.use_last_layer(layer, profile.name)
