"""The calls that can be made, and the grammar they are made of."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from companion.commands.arguments import add_command, job_options
from companion.commands.given import files_of, job_given, own_ways_of
from companion.errors import CompanionError, WrongUse
from companion.plain_print import json_text


def add_to(commands: Any) -> None:
    """Add the commands of this file."""
    made = add_command(commands, "calls", calls, "companion calls --add 'fed her' --as added")
    job_options(made)
    made.add_argument("--voice", metavar="NAME", help="an enrolled voice, whose own ways they are")
    change = made.add_mutually_exclusive_group()
    change.add_argument("--add", metavar="WORDS", help="a way of your own; --as says of what")
    change.add_argument("--remove", metavar="WORDS", help="a way of your own to forget")
    change.add_argument(
        "--said", action="store_true", help="list the forms that you have used, and how often"
    )
    change.add_argument("--forget", action="store_true", help="erase those counts")
    change.add_argument("--json", action="store_true", help="print them as JSON")
    made.add_argument(
        "--as", dest="plain", metavar="PHRASE", help="the phrase of the calls that it stands for"
    )

    grammar = commands.add_parser("grammar", help="Check the active grammar.").add_subparsers(
        required=True, metavar="WHAT"
    )
    made = add_command(
        grammar, "check", grammar_check, "companion grammar check --job four-stroke-service"
    )
    made.add_argument(
        "file", nargs="?", type=Path, metavar="FILE", help="a grammar of your own, in JSGF"
    )
    job_options(made)


def calls(options: argparse.Namespace) -> None:
    """List the calls that can be made, and keep ways of your own to say them."""
    from companion.calls import add_way, calls_as_json, calls_lines, forms_lines, remove_way
    from companion.enroll.used_forms import used_by
    from companion.settings import load_settings

    settings = load_settings()
    kept = own_ways_of(options, settings)
    if (options.add is None) != (options.plain is None):
        raise WrongUse("--add and --as belong together: --add 'fed her' --as added")
    if options.remove is not None:
        print(remove_way(options.remove, kept))
        return
    if options.said or options.forget:
        print("\n".join(forms_lines(used_by(kept.person), forget=options.forget)))
        return
    if options.add is not None:
        kept.read()  # a damaged file is refused before anything else is said of it
    grammar = job_given(options).grammar(settings, kept)
    if options.add is not None:
        print(add_way(options.add, options.plain, kept, grammar))
    elif options.json:
        print(json_text(calls_as_json(grammar), indent=2))
    else:
        print("\n".join(calls_lines(grammar)))


def grammar_check(options: argparse.Namespace) -> int:
    """Check the active grammar, or one of your own: pronunciations, ambiguities, sound-alikes."""
    from companion.grammar.check import check_grammar
    from companion.grammar.jsgf import GrammarTooLarge
    from companion.intent.same import meaning_of
    from companion.settings import load_settings

    if options.file is not None:
        from companion.grammar.compiled import CallGrammar
        from companion.grammar.files import read_own_rules

        rules = read_own_rules(options.file)
        files = (options.file, *sorted(options.file.parent.glob("*.gram")))
        try:
            checked = check_grammar(CallGrammar(rules), files, meaning=meaning_of)
        except GrammarTooLarge as error:
            raise CompanionError(f"{options.file}: {error}") from None
        except RecursionError:
            raise CompanionError(
                f"{options.file}: its rules stand too deep one in another; write simpler ones."
            ) from None
    else:
        grammar = job_given(options).grammar(load_settings())
        checked = check_grammar(grammar, files_of(options), meaning=meaning_of)
    for line in checked.lines:
        print(line)
    return 0 if checked.ok else 1
