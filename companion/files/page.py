"""A page, or a list for a printer or a spreadsheet, written to disk: whole, or not at all."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path

from companion.errors import CompanionError
from companion.files.fresh import FreshFiles, Known

GENERATOR = "Bench Companion"
"""Stands in every page, with what the page is."""

BEGINS = (
    '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
    '<meta name="generator" content="Bench Companion; {what}">\n'
)
"""How every page begins, to the letter: no words that somebody said can stand before it."""

BEGAN = re.compile(
    rb'<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
    rb'<meta name="viewport" content="width=device-width, initial-scale=1">\n'
    rb"<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; [^\"\n]*"
    rb"base-uri 'none'; form-action 'none'\">\n"
    rb'<meta name="referrer" content="no-referrer">\n<title>'
)
"""How pages of version 0.1 began, which did not say what they were."""

WRITTEN_BY = "Written by Bench Companion"
"""The third line of a list that is plain text."""

LIST_COLUMNS = ("list", "name", "amount", "note", "machine")
"""The first line of a parts list for a spreadsheet."""

_LISTS: Mapping[str, Known] = {
    "parts list": lambda head: bool(
        re.match(
            rb"Parts list: [^\n]*\n[^\n]*\n" + WRITTEN_BY.encode() + rb"\n"
            rb"|" + ",".join(LIST_COLUMNS).encode() + rb"\r\n",
            head,
        )
    )
}
"""By what it is, how a file that is no page is known."""


def write_page(html: str | bytes, page: Path, what: str, *, replace: bool = False) -> Path:
    """Write a page; an earlier one of the same kind is replaced, never half written, and nothing
    else is unless that is asked for.

    Args:
        html: The page, with ``GENERATOR`` and what it is in its head, or the list; or its UTF-8.
        page: The file to write.
        what: What it is, in words: "report".
        replace: Whether any other plain file may be replaced too; the log, clips and lists of the
            shop never are.

    Raises:
        CompanionError: If something else is there, or it cannot be written.
    """
    data = html.encode(errors="replace") if isinstance(html, str) else html
    try:
        if page.is_dir():
            raise IsADirectoryError(0, "it is a folder")
        with FreshFiles(replace=replace) as files:
            files.open(page, what, _known(what)).write(data)
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or error
        raise CompanionError(
            f"The {what} {page} cannot be written ({why}); name a file in a folder that "
            "is there, with space and leave to write."
        ) from None
    return page


def _known(what: str) -> Known:
    begins = BEGINS.format(what=what).encode()
    listed = _LISTS.get(what)

    def known(head: bytes) -> bool:
        if head.startswith(begins) or BEGAN.match(head) is not None:
            return True
        return listed is not None and listed(head)

    return known
