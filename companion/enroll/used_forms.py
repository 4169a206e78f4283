"""How often a person has used which form of a call: counted at this machine, shown and erasable.

What is counted are frames ("put in … of …"), never a name or a figure. The counts only tell which
of two calls that were heard alike is likelier (``companion.intent.context``); losing them loses
nothing that was recorded, so that a damaged file counts as none.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from companion.enroll.voice_profile import FOLDER, as_file_name
from companion.errors import CompanionError
from companion.files.data import data_folder
from companion.files.disk import replace_file
from companion.files.limits import LARGEST_WHOLE
from companion.files.reading import json_of

NAME = "forms-used.json"
"""Beside the enrolled voices; no voice can have this name, which has a dot in it."""

MOST = 400
"""The most forms kept of a person, those used most often; nobody has more ways to say a thing."""


@dataclass(frozen=True, slots=True)
class UsedForms:
    """The forms that whoever works now has used.

    Attributes:
        person: Name of an enrolled voice, or None for everyone.
        path: The file.
    """

    person: str | None
    path: Path

    def read(self) -> Mapping[str, int]:
        """Return how often each form was used; empty where nothing is kept or the file is
        damaged."""
        return self._all().get(self._key, {})

    def add(self, counts: Mapping[str, int]) -> None:
        """Count more uses.

        Raises:
            CompanionError: If the file cannot be written.
        """
        if not counts:
            return
        kept = self._all()
        together = Counter(kept.get(self._key, {}))
        together.update(counts)
        self._write({**kept, self._key: dict(together.most_common(MOST))})

    def forget(self) -> bool:
        """Erase the person's counts; whether there were any.

        Raises:
            CompanionError: If the file cannot be written.
        """
        kept = self._all()
        if not kept.pop(self._key, None):
            return False
        self._write(kept)
        return True

    @property
    def _key(self) -> str:
        return "" if self.person is None else as_file_name(self.person)

    def _all(self) -> dict[str, dict[str, int]]:
        try:
            found = json_of(self.path, "list of the forms you use")
        except CompanionError:
            return {}
        if not isinstance(found, dict):
            return {}
        return {
            person: {
                form: count
                for form, count in counts.items()
                if isinstance(count, int)
                and not isinstance(count, bool)
                and 0 < count <= LARGEST_WHOLE
            }
            for person, counts in found.items()
            if isinstance(counts, dict)
        }

    def _write(self, forms: Mapping[str, Mapping[str, int]]) -> None:
        text = json.dumps(forms, ensure_ascii=False, indent=1, sort_keys=True)
        try:
            replace_file(self.path, text.encode())
        except OSError as error:
            raise CompanionError(
                f"The forms you use cannot be written to {self.path} ({error.strerror}); free some "
                "space or mend the folder's permissions."
            ) from None


def used_by(person: str | None) -> UsedForms:
    """The forms that an enrolled voice, or everyone, has used."""
    return UsedForms(person, data_folder() / FOLDER / NAME)
