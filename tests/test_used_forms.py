"""Which forms a person uses is counted on this machine, shown, and erased when asked to."""

from __future__ import annotations

from pathlib import Path

import pytest

from companion.calls import forms_lines
from companion.enroll.used_forms import MOST, UsedForms
from companion.errors import CompanionError


def forms(folder: Path, person: str | None = None) -> UsedForms:
    return UsedForms(person, folder / "voices" / "forms-used.json")


def test_uses_add_up_for_each_person_apart(tmp_path: Path) -> None:
    forms(tmp_path, "Rosa").add({"put in … of …": 2})
    forms(tmp_path, "rosa").add({"put in … of …": 1, "the … is worn": 1})
    forms(tmp_path).add({"can i start it": 4})
    assert forms(tmp_path, "Rosa").read() == {"put in … of …": 3, "the … is worn": 1}
    assert forms(tmp_path).read() == {"can i start it": 4}


def test_they_are_shown_the_most_used_first_and_erased(tmp_path: Path) -> None:
    mine = forms(tmp_path)
    assert forms_lines(mine) == ["No forms are kept yet: they are counted where calls are spoken."]
    mine.add({"the … is worn": 1, "put in … of …": 12})
    assert forms_lines(mine) == ["   12  put in … of …", "    1  the … is worn"]
    forms(tmp_path, "Rosa").add({"done": 1})
    assert forms_lines(mine, forget=True) == ["The forms that you used are forgotten."]
    assert mine.read() == {}
    assert forms(tmp_path, "Rosa").read() == {"done": 1}
    assert forms_lines(mine, forget=True) == ["No forms are kept."]


@pytest.mark.parametrize("damage", ["", "{", "[1]", '{"": 3}', '{"": {"done": "often"}}'])
def test_a_damaged_file_counts_as_none(tmp_path: Path, damage: str) -> None:
    mine = forms(tmp_path)
    mine.path.parent.mkdir()
    mine.path.write_text(damage, encoding="utf-8")
    assert mine.read() == {}
    mine.add({"done": 1})
    assert mine.read() == {"done": 1}


def test_only_so_many_are_kept(tmp_path: Path) -> None:
    mine = forms(tmp_path)
    mine.add({f"form {number}": number + 1 for number in range(MOST + 50)})
    assert len(mine.read()) == MOST
    assert "form 0" not in mine.read()


def test_a_folder_that_cannot_be_written_is_one_sentence(tmp_path: Path) -> None:
    (tmp_path / "voices").write_text("a file in its place", encoding="utf-8")
    with pytest.raises(CompanionError, match="cannot be written"):
        forms(tmp_path).add({"done": 1})
