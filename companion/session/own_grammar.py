"""The active grammar of whoever works now: the words of the job, and the person's own ways."""

from __future__ import annotations

from companion.enroll.ways_file import WaysFile
from companion.errors import CompanionError
from companion.grammar.compiled import CallGrammar, load_grammar, load_rules
from companion.grammar.vocabulary import Vocabulary
from companion.intent.own_ways import load_with
from companion.job.danger_table import DangerTable
from companion.job.mending import mending_actions


def grammar_of(
    vocabulary: Vocabulary, own_ways: WaysFile, dangers: DangerTable
) -> tuple[CallGrammar, tuple[str, ...]]:
    """Compile the grammar of a job with a person's own ways.

    Args:
        vocabulary: The words of the job.
        own_ways: Where the ways are kept.
        dangers: What ends a danger is only taken in the words of the grammar.

    Returns:
        The grammar, and a sentence for each way that is left out; where the file is damaged, one
        sentence for all of them.

    Raises:
        CompanionError: As ``load_grammar``.
    """
    left_out: tuple[str, ...] = ()
    try:
        ways = own_ways.read()
    except CompanionError as error:
        ways, left_out = (), (f"{error} Until then the calls are taken in the plain form only.",)
    if not ways:
        return load_grammar(vocabulary), left_out
    call_sign = tuple(vocabulary.call_sign.split())
    grammar, not_fitting = load_with(
        load_rules(vocabulary), ways, call_sign, mending_actions(dangers)
    )
    return grammar, (*left_out, *not_fitting)
