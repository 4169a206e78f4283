"""A model of which one byte was changed is refused with one sentence and the way out."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from companion.recognize import encoder_changes, model, phonemes, sphinx
from companion.recognize.choose import choose
from companion.recognize.held import HeldRecognizer
from companion.recognize.protocol import ModelDamaged, RecognizerUnavailable
from companion.recognize.whole_files import Release, digest


def damage(path: Path) -> None:
    """Change one bit in the middle, as a disk may; size and date stay."""
    data = bytearray(path.read_bytes())
    data[len(data) // 2] ^= 1
    path.write_bytes(data)


@pytest.fixture
def whisper(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The packaged model, in a folder where it may be changed."""
    copied = tmp_path / "model"
    shutil.copytree(model.packaged_folder(), copied)
    monkeypatch.setattr(model, "packaged_folder", lambda: copied)
    return copied


@pytest.mark.parametrize("name", model.RELEASE.files)
def test_any_file_of_the_packaged_whisper(name: str, whisper: Path) -> None:
    damage(whisper / name)
    with pytest.raises(ModelDamaged, match="--force-reinstall") as error:
        choose("auto")
    assert name in str(error.value)
    assert model.RELEASE.package in str(error.value)


def test_a_copy_of_the_packaged_whisper_is_held_to_the_same(whisper: Path) -> None:
    damage(whisper / "tokenizer.json")
    with pytest.raises(ModelDamaged, match=r"tokenizer\.json"):
        HeldRecognizer(whisper)


def test_the_phoneme_weights(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    copied = tmp_path / "phonemes.npz"
    shutil.copy(phonemes.WEIGHTS, copied)
    monkeypatch.setattr(phonemes, "WEIGHTS", copied)
    phonemes.PhonemeNetwork(copied)
    damage(copied)
    with pytest.raises(ModelDamaged, match="install Bench Companion again"):
        phonemes.PhonemeNetwork(copied)


def test_what_was_fitted_in_the_encoder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    copied = tmp_path / "encoder_changes.npz"
    shutil.copy(encoder_changes.CHANGES, copied)
    monkeypatch.setattr(encoder_changes, "CHANGES", copied)
    assert encoder_changes.encoder_changes(copied)
    damage(copied)
    with pytest.raises(ModelDamaged, match="install Bench Companion again"):
        encoder_changes.encoder_changes(copied)


@pytest.mark.parametrize("name", sphinx.RELEASE.files)
def test_any_file_of_the_second_engine(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import pocketsphinx

    package = tmp_path / "pocketsphinx"
    shutil.copytree(Path(pocketsphinx.__file__).parent / "model", package / "model")
    monkeypatch.setattr(sphinx.importlib.resources, "files", lambda _: package)
    damage(package / "model" / "en-us" / "en-us" / name)
    with pytest.raises(ModelDamaged, match=f"{name}.*{sphinx.RELEASE.package}"):
        sphinx.SphinxEars()


def test_every_file_that_is_installed_is_the_one_that_is_pinned() -> None:
    model.RELEASE.check(model.packaged_folder())
    assert digest(phonemes.WEIGHTS) == phonemes.WEIGHTS_SHA256
    assert digest(encoder_changes.CHANGES) == encoder_changes.CHANGES_SHA256
    sphinx.SphinxEars()
    installed = {path.name for path in model.packaged_folder().iterdir()}
    assert installed == set(model.RELEASE.files)


def test_a_file_that_is_missing_is_damaged(tmp_path: Path) -> None:
    with pytest.raises(ModelDamaged, match="gone"):
        Release("Some", "some==1", {"gone": "0"}).check(tmp_path)


def test_where_a_file_of_the_packaged_whisper_is_gone_it_is_to_be_installed_again(
    whisper: Path,
) -> None:
    (whisper / "config.json").unlink()
    with pytest.raises(RecognizerUnavailable, match=r"reinstall it with: .*--force-reinstall"):
        HeldRecognizer()


def test_a_folder_of_ones_own_that_holds_no_model_is_not_mended_by_installing_one(
    tmp_path: Path,
) -> None:
    with pytest.raises(RecognizerUnavailable, match="name another folder, or none") as error:
        HeldRecognizer(tmp_path)
    assert "install" not in str(error.value)
