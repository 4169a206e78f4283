"""The calls that can be made, and the grammar they are made of."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from companion.commands.arguments import (
    add_command,
    html_option,
    job_options,
    json_option,
    replace_option,
    voice_option,
)
from companion.commands.given import files_of, job_given, one_by_one, own_ways_of
from companion.commands.json_lists import print_list
from companion.errors import CompanionError, WrongUse

if TYPE_CHECKING:
    from companion.grammar.check import Report


def add_to(commands: Any) -> None:
    """Add the commands of this file."""
    made = add_command(commands, "calls", calls, "companion calls --add 'fed her' --as added")
    job_options(made)
    voice_option(made)
    change = made.add_mutually_exclusive_group()
    change.add_argument("--add", metavar="WORDS", help="a way of your own; --as says of what")
    change.add_argument("--remove", metavar="WORDS", help="a way of your own to forget")
    change.add_argument(
        "--said", action="store_true", help="list the forms that you have used, and how often"
    )
    change.add_argument("--forget-said", action="store_true", help="erase those counts")
    made.add_argument(
        "--as", dest="plain", metavar="PHRASE", help="the phrase of the calls that it stands for"
    )
    html_option(made)
    replace_option(made)
    json_option(made)

    grammar = commands.add_parser("grammar", help="Check the active grammar.").add_subparsers(
        required=True, metavar="WHAT"
    )
    made = add_command(
        grammar, "check", grammar_check, "companion grammar check --job four-stroke-service"
    )
    made.add_argument(
        "files", nargs="*", type=Path, metavar="FILE", help="grammars of your own, in JSGF"
    )
    job_options(made)
    json_option(made)


def calls(options: argparse.Namespace) -> None:
    """List the calls that can be made, and keep ways of your own."""
    from companion.calls import (
        add_way,
        calls_lines,
        calls_values,
        forms_lines,
        forms_values,
        remove_way,
        sheet_of_calls,
    )
    from companion.enroll.used_forms import used_by
    from companion.report.calls_page import write_calls
    from companion.settings import load_settings

    settings = load_settings()
    kept = own_ways_of(options, settings)
    if (options.add is None) != (options.plain is None):
        raise WrongUse("--add and --as belong together: --add 'fed her' --as added")
    if options.remove is not None:
        print(remove_way(options.remove, kept))
        return
    if options.json and (options.forget_said or options.plain or options.remove is not None):
        raise WrongUse("--json is of what is listed; leave it where something is changed.")
    if options.json and options.said:
        print_list("forms", forms_values(used_by(kept.person)))
        return
    if options.said or options.forget_said:
        print("\n".join(forms_lines(used_by(kept.person), forget=options.forget_said)))
        return
    if options.add is not None:
        kept.read()  # a damaged file is refused before anything else is said of it
    job = job_given(options)
    grammar = job.grammar(settings, kept)
    if options.add is not None:
        print(add_way(options.add, options.plain, kept, grammar))
    elif options.html is not None:
        sheet = sheet_of_calls(
            grammar, call_sign=settings.call_sign, card=job.card, sheet=job.sheet
        )
        print(f"Calls: {write_calls(sheet, options.html, replace=options.replace)}")
    elif options.json:
        families, beside = calls_values(grammar)
        print_list("calls", families, **beside)
    else:
        print("\n".join(calls_lines(grammar)))


def grammar_check(options: argparse.Namespace) -> int:
    """Check the active grammar, or one of your own: pronunciations, ambiguities, sound-alikes."""
    found: list[dict[str, Any]] = []

    def check(file: Path | None) -> int:
        checked = _active_checked(options) if file is None else _file_checked(file)
        if options.json:
            found.append(
                {
                    "file": None if file is None else str(file),
                    "passes": checked.ok,
                    "lines": list(checked.lines),
                }
            )
            return 0 if checked.ok else 1
        if len(options.files) > 1:
            print(f"{file}:")
        for line in checked.lines:
            print(line)
        return 0 if checked.ok else 1

    status = one_by_one(options.files or [None], check)
    if options.json:
        print_list("grammars", found)
    return status


def _file_checked(file: Path) -> Report:
    from companion.grammar.check import check_grammar
    from companion.grammar.compiled import CallGrammar
    from companion.grammar.files import read_own_rules
    from companion.grammar.jsgf import GrammarTooLarge
    from companion.intent.same import meaning_of

    rules = read_own_rules(file)
    files = (file, *sorted(file.parent.glob("*.gram")))
    try:
        return check_grammar(CallGrammar(rules), files, meaning=meaning_of)
    except GrammarTooLarge as error:
        raise CompanionError(f"{file}: {error}") from None
    except RecursionError:
        raise CompanionError(
            f"{file}: its rules stand too deep one in another; write simpler ones."
        ) from None


def _active_checked(options: argparse.Namespace) -> Report:
    from companion.grammar.check import check_grammar
    from companion.intent.same import meaning_of
    from companion.settings import load_settings

    grammar = job_given(options).grammar(load_settings())
    return check_grammar(grammar, files_of(options), meaning=meaning_of)
