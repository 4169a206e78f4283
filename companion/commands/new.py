"""New sheets and cards of the shop's own, with everything that may stand in one."""

from __future__ import annotations

import argparse
import os
import shlex
import shutil
import subprocess
import sys
import tempfile
import textwrap
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from companion.commands.arguments import add_command, from_option, replace_option, serial_option
from companion.errors import CompanionError, WrongUse
from companion.plain_print import whole

if TYPE_CHECKING:
    from companion.blanks.card_text import CardAnswers
    from companion.blanks.interview import Person
    from companion.blanks.sheet_text import SheetAnswers


def add_to(commands: Any) -> None:
    """Add the commands of this file."""
    family = commands.add_parser(
        "new", help="Make a spec sheet or a job card of your own."
    ).add_subparsers(required=True, metavar="WHAT")

    made = add_command(family, "sheet", sheet, 'companion new sheet "Rosa\'s mower" --kind mower')
    _common(made, "what the machine is called")
    made.add_argument("--battery", action="store_true", help="it is started by a battery")
    made.add_argument(
        "--known",
        type=whole,
        action="append",
        default=[],
        metavar="FIGURE",
        help="what its manual says, as often as you like: 'gap 28 to 31 thou', 'oil 20 ounces'",
    )
    serial_option(made)

    made = add_command(
        family, "card", card, "companion new card 'Blade change' --say 'Blade off, new one on.'"
    )
    _common(made, "what the job is called")
    made.add_argument(
        "--say",
        type=whole,
        action="append",
        default=[],
        metavar="TEXT",
        help="what is said at a step, as often as there are; one that ends with '?' asks",
    )


def _common(made: argparse.ArgumentParser, what: str) -> None:
    made.add_argument(
        "name", nargs="?", type=whole, metavar="NAME", help=f"{what}; its file is named so too"
    )
    made.add_argument(
        "--kind", type=whole, metavar="KIND", help="machine: mower, generator …, or your own words"
    )
    made.add_argument(
        "--cycle", choices=("four-stroke", "two-stroke", "electric"), help="how its engine works"
    )
    made.add_argument(
        "--units", choices=("inches", "metric"), default="inches", help="the units that you like"
    )
    from_option(made)
    made.add_argument(
        "--blank", action="store_true", help="only the frame, everything else standing ready"
    )
    made.add_argument(
        "--edit", action="store_true", help="open it in your editor ($VISUAL or $EDITOR), and check"
    )
    replace_option(made)


def sheet(options: argparse.Namespace) -> int:
    """Make a spec sheet of your own; asks what it must where nothing is given."""
    from companion.blanks.copied import copied_sheet
    from companion.blanks.sheet_text import sheet_text
    from companion.files.reading import text_of
    from companion.shelf.load import load_sheet, sheet_file
    from companion.shelf.own import own_sheets, sheet_named

    name, path = _place(options, own_sheets(), "sheet", "machine")
    if not _goes_on(path, options):
        if options.source is not None:
            _only(options, "kind", "cycle", "battery", "known", "serial")
            source = sheet_file(sheet_named(options.source))
            load_sheet(source)
            text = copied_sheet(text_of(source, "spec sheet", named=True), name)
        else:
            text = sheet_text(_sheet_answers(options, name))
        _checked(text, path, load_sheet)
        _write(path, text, options)
    print(f"Sheet: {path}")
    status = _edited(path, lambda: load_sheet(path), options)
    if status == 0:
        made = load_sheet(path)
        print(
            f"{made.name} ({made.kind}){', invented' if made.invented else ''}: passes its check."
        )
        if not options.edit:
            print("Lines that begin with # stand ready: open it, and put in what its manual says.")
        fitting = _card_for(made)
        job = "" if fitting is None else f" --job {fitting}"
        print(f"Next: companion work --machine {path.stem}{job}")
    return status


def card(options: argparse.Namespace) -> int:
    """Make a job card of your own; asks what it must where nothing is given."""
    from companion.blanks.card_text import card_text
    from companion.blanks.copied import copied_card
    from companion.files.reading import text_of
    from companion.shelf.load import card_file, load_card
    from companion.shelf.own import card_named, own_cards

    title, path = _place(options, own_cards(), "card", "job")
    if not _goes_on(path, options):
        if options.source is not None:
            _only(options, "kind", "cycle", "say")
            source = card_file(card_named(options.source))
            load_card(source)
            text = copied_card(text_of(source, "job card", named=True), path.stem, title)
        else:
            text = card_text(_card_answers(options, path.stem, title))
        _checked(text, path, load_card)
        _write(path, text, options)
    print(f"Card: {path}")
    status = _edited(path, lambda: load_card(path), options)
    if status == 0:
        made = load_card(path)
        steps = f"{len(made.step)} step{'s' if len(made.step) > 1 else ''}"
        print(f"{made.title}, {steps}: passes its check.")
        if not options.edit:
            print("Lines that begin with # stand ready: open it, and put in what the job needs.")
        print(
            f"Next: companion work --job {path.stem} --machine NAME ('companion sheets' has them)"
        )
    return status


# --- what was answered --------------------------------------------------------------------------


def _sheet_answers(options: argparse.Namespace, name: str) -> SheetAnswers:
    from companion.blanks.interview import ask_sheet, kind_of
    from companion.blanks.kinds import KINDS
    from companion.blanks.known import known_of
    from companion.blanks.sheet_text import SheetAnswers

    if options.kind is None and not options.blank:
        given = [key for key in ("cycle", "battery", "known", "serial") if getattr(options, key)]
        if given or not _at_a_terminal():
            raise WrongUse(
                f"Say with --kind what it is: {', '.join(KINDS)}, or words of your own; or take "
                "--blank or --from."
            )
        return ask_sheet(name, _person())
    kind = KINDS["engine"] if options.kind is None else kind_of(options.kind)
    known = tuple(known_of(each, options.units) for each in options.known)
    cycle = options.cycle or (None if options.kind is None else kind.cycle)
    return SheetAnswers(
        name, kind, cycle, options.units, options.battery, known, options.serial, (), options.blank
    )


def _card_answers(options: argparse.Namespace, name: str, title: str) -> CardAnswers:
    from companion.blanks.card_text import CardAnswers
    from companion.blanks.interview import ask_card, kind_of

    given = options.kind or options.cycle or options.say or options.blank
    if not given and _at_a_terminal():
        return ask_card(name, title, _person())
    return CardAnswers(
        name,
        title,
        () if options.kind is None else (kind_of(options.kind),),
        options.cycle,
        options.units,
        tuple(options.say),
        options.blank,
    )


def _only(options: argparse.Namespace, *keys: str) -> None:
    """Refuse options that mean nothing where a sheet or card is copied."""
    given = [key for key in ("blank", *keys) if getattr(options, key)]
    if given:
        raise WrongUse(f"--{given[0]} and --from do not go together: a copy has it already.")


def _at_a_terminal() -> bool:
    return sys.stdin.isatty() and sys.stdout.isatty()


def _person() -> Person:
    from companion.blanks.interview import Person

    def ask(question: str) -> str:
        print(question, end="", flush=True)
        line = sys.stdin.readline()
        if not line:
            raise CompanionError("The questions were not answered to the end; nothing was written.")
        return " ".join(line.split())

    width = min(shutil.get_terminal_size().columns, 100)

    def tell(text: str) -> None:
        print("\n".join(textwrap.wrap(text, width, drop_whitespace=True)) or text, flush=True)

    return Person(ask, tell)


# --- the file -----------------------------------------------------------------------------------


def _place(options: argparse.Namespace, folder: Path, kind: str, what: str) -> tuple[str, Path]:
    """The name as it was given, and the file that it has."""
    from companion.files.stem import stem_of

    name = " ".join((options.name or "").split())
    if options.name is None:
        if not _at_a_terminal():
            raise WrongUse(f"Say what it is called: companion new {kind} NAME")
        person = _person()
        while not stem_of(name):
            name = person.ask(f"What is the {what} called? ")
    stem = stem_of(name)
    if not stem:
        raise WrongUse(
            f"'{options.name}' has no letter a to z and no digit that a file could be named by; "
            "give it a name that has."
        )
    path = folder / f"{stem}.toml"
    if os.path.lexists(path) and not options.replace and not _goes_on(path, options):
        raise CompanionError(
            f"{path} is there already; open it with --edit, take another name, or replace it with "
            "--replace."
        )
    return name, path


def _goes_on(path: Path, options: argparse.Namespace) -> bool:
    """Whether an existing file is to be opened as it is: nothing but its name was given."""
    answers = ("source", "blank", "kind", "cycle", "battery", "known", "serial", "say", "replace")
    return (
        options.edit
        and os.path.lexists(path)
        and not any(getattr(options, key, None) for key in answers)
    )


def _checked(text: str, path: Path, load: Callable[[Path], object]) -> None:
    """Refuse what would not pass its check, before anything is written."""
    from companion.shelf.fault import WrongFile

    with tempfile.TemporaryDirectory() as folder:
        tried = Path(folder) / path.name
        tried.write_text(text, encoding="utf-8")
        try:
            load(tried)
        except WrongFile as error:
            reasons = "; ".join(reason for _, reason in error.faults)
            raise WrongUse(f"What was given does not make a whole one: {reasons}.") from None


def _write(path: Path, text: str, options: argparse.Namespace) -> None:
    from companion.files.disk import make_folders, replace_file, write_once

    try:
        if options.replace:
            replace_file(path, text.encode())
        else:
            make_folders(path.parent)
            write_once(path, text.encode())
    except OSError as error:
        raise CompanionError(
            f"{path} cannot be written: {error.strerror or error}; free some space or change the "
            "permissions of its folder."
        ) from error


def _edited(path: Path, check: Any, options: argparse.Namespace) -> int:
    """Open a file in an editor, if that is wanted, until it passes its check; the exit status."""
    if not options.edit:
        check()
        return 0
    named = os.environ.get("VISUAL") or os.environ.get("EDITOR")
    if not named or not named.strip():
        raise CompanionError(
            f"No editor is named: set VISUAL or EDITOR to yours, or open {path} in one."
        )
    while True:
        _open_in(named, path)
        try:
            check()
        except CompanionError as error:
            print(f"companion: {error}", file=sys.stderr)
            if not _at_a_terminal() or not _again():
                return 1
        else:
            return 0


def _open_in(editor: str, path: Path) -> None:
    try:
        command = shlex.split(editor)
        ended = subprocess.run([*command, str(path)], check=False).returncode
    except (OSError, ValueError) as error:
        raise CompanionError(
            f"The editor '{editor}' cannot be started ({error}); set VISUAL or EDITOR to yours, or "
            f"open {path} in one."
        ) from None
    if ended:
        print(f"companion: The editor '{editor}' ended with status {ended}.", file=sys.stderr)


def _again() -> bool:
    print("Open it again? [Y/n] ", end="", flush=True)
    line = sys.stdin.readline()
    return bool(line) and line.strip().lower() in ("", "y", "yes")


def _card_for(made: Any) -> str | None:
    """The shipped card of the yearly service that is for this machine, if there is one."""
    from companion.job.fits import fits
    from companion.shelf.load import load_card, shipped_cards

    cycle = made.identification.cycle
    usual = f"{cycle}-service"
    fitting = [name for name in shipped_cards() if fits(load_card(name), made)]
    if cycle is not None and usual in fitting:
        return usual
    return next((name for name in fitting if name.endswith("service")), None)
