"""JSGF text to linked rules: what the W3C note of 2000 allows, and what is refused and why."""

from __future__ import annotations

from collections.abc import Mapping

import pytest

from companion.errors import CompanionError
from companion.grammar.compiled import CallGrammar
from companion.grammar.jsgf import (
    Alternatives,
    Grammar,
    Null,
    Optional,
    Reference,
    Repeat,
    Sequence,
    Tagged,
    Void,
    Word,
    parse_jsgf,
)
from companion.grammar.linking import link


def rule(body: str) -> object:
    return read(f"public <call> = {body};").rules["call"].expansion


def read(rules: str, name: str = "toys") -> Grammar:
    return parse_jsgf(f"#JSGF V1.0 UTF-8 en;\ngrammar {name};\n{rules}\n", f"{name}.gram")


def grammar(top: str, others: Mapping[str, str] | None = None) -> CallGrammar:
    files = {name: read(text, name) for name, text in (others or {}).items()}
    return CallGrammar(link(read(top), "call", files.get))


def accepted(found: CallGrammar, *sentences: str) -> list[bool]:
    return [bool(found.parse(sentence.split())) for sentence in sentences]


# --- the text -----------------------------------------------------------------------------------


def test_alternatives_sequences_and_groups() -> None:
    assert rule("red (green | blue)") == Sequence(
        (Word("red"), Alternatives((Word("green"), Word("blue")), (1.0, 1.0)))
    )


def test_sequence_binds_tighter_than_alternative() -> None:
    assert rule("red green | blue") == Alternatives(
        (Sequence((Word("red"), Word("green"))), Word("blue")), (1.0, 1.0)
    )


def test_weights() -> None:
    assert rule("/10/ small | /2.5/ medium | /1e-1/ large") == Alternatives(
        (Word("small"), Word("medium"), Word("large")), (10.0, 2.5, 0.1)
    )


def test_alternative_of_weight_zero_is_never_said() -> None:
    found = grammar("public <call> = /1/ small | /0/ large;")
    assert accepted(found, "small", "large") == [True, False]


def test_optional_star_and_plus() -> None:
    assert rule("[red] green* blue+") == Sequence(
        (
            Optional(Word("red")),
            Repeat(Word("green"), at_least_once=False),
            Repeat(Word("blue"), at_least_once=True),
        )
    )


def test_operators_and_tags_bind_to_what_is_right_before_them() -> None:
    assert rule("red green {color=green}") == Sequence(
        (Word("red"), Tagged(Word("green"), ("color=green",)))
    )
    assert rule("(red green)* {colors}") == Tagged(
        Repeat(Sequence((Word("red"), Word("green"))), at_least_once=False), ("colors",)
    )
    assert rule("red {one} {two}") == Tagged(Word("red"), ("one", "two"))
    assert rule("red {one}*") == Repeat(Tagged(Word("red"), ("one",)), at_least_once=False)


def test_escapes_in_tags_and_quotes() -> None:
    assert rule(r"red {a \} and a \{ and a \\}") == Tagged(Word("red"), ("a } and a { and a \\",))
    assert rule(r'"p s i"') == Sequence((Word("p"), Word("s"), Word("i")))
    assert rule(r'"a\"b"') == Word('a"b')


def test_null_and_void() -> None:
    assert rule("<NULL>") == Null()
    assert rule("<VOID>") == Void()
    found = grammar("public <call> = red <NULL> green | blue <VOID>;")
    assert accepted(found, "red green", "blue") == [True, False]


def test_comments_may_stand_anywhere_between_words() -> None:
    assert rule("red /* not | blue; */ green // {tag};\n") == Sequence((Word("red"), Word("green")))


def test_line_numbers_count_comments() -> None:
    found = read("/* one\n two */\n// three\n<color> = red;\npublic <call> = <color>;")
    assert found.rules["color"].line == 6
    assert found.rules["call"].expansion == Reference("color", 7)


def test_private_and_public_rules() -> None:
    found = read("<color> = red; public <call> = <color>;")
    assert [(r.name, r.public) for r in found.rules.values()] == [("color", False), ("call", True)]


def test_keywords_are_plain_words_inside_a_rule() -> None:
    found = grammar("public <call> = public | grammar | import;")
    assert accepted(found, "public", "grammar", "import") == [True, True, True]


def test_header_with_encoding_and_locale_or_without() -> None:
    for header in ("#JSGF V1.0;", "#JSGF V1.0 UTF-8;", "\ufeff#JSGF V1.0 UTF-8 en;"):
        assert parse_jsgf(f"{header}\ngrammar toys;\npublic <call> = red;", "toys.gram").rules


# --- what is refused: always file, line and reason ----------------------------------------------


@pytest.mark.parametrize(
    ("text", "line", "reason"),
    [
        ("", 1, "the header '#JSGF V1.0;'"),
        ("#JSGF V1.0;\npublic <call> = red;", 2, "'grammar'"),
        ("#JSGF V1.0;\ngrammar toys;\npublic <call> = red", 3, "';' may be missing"),
        ("#JSGF V1.0;\ngrammar toys;\n<a> = red\n<b> = blue;", 4, "';' may be missing"),
        ("#JSGF V1.0;\ngrammar toys;\n<a> = red | ;", 3, "a word"),
        ("#JSGF V1.0;\ngrammar toys;\n<a> = (red;", 3, "')'"),
        ("#JSGF V1.0;\ngrammar toys;\n<a> = red {open;", 3, "'{'"),
        ("#JSGF V1.0;\ngrammar toys;\n<a> = red;\nimport <b.*>;", 4, "'import'"),
        ("#JSGF V1.0;\ngrammar toys;\nimport <b>;", 3, "<grammar.rule>"),
        ("#JSGF V1.0;\ngrammar toys;\n<a> = red;\n\n<a> = blue;", 5, "already defined in line 3"),
        ("#JSGF V1.0;\ngrammar toys;\n<NULL> = red;", 3, "built in"),
        ("#JSGF V1.0;\ngrammar toys;\n<a.b> = red;", 3, "dot"),
        ("#JSGF V1.0;\ngrammar toys;\n<a> = /1/ red | blue;", 3, "has a weight or none"),
        ("#JSGF V1.0;\ngrammar toys;\n<a> = /0/ red | /0/ blue;", 3, "every weight is zero"),
        ("#JSGF V1.0;\ngrammar toys;\n<a> = /1.2.3/ red | /1/ blue;", 3, "no number"),
        ('#JSGF V1.0;\ngrammar toys;\n<a> = "";', 3, "<NULL>"),
    ],
)
def test_text_that_is_no_jsgf(text: str, line: int, reason: str) -> None:
    with pytest.raises(CompanionError) as refused:
        parse_jsgf(text, "toys.gram")
    message = str(refused.value)
    assert message.startswith(f"toys.gram, line {line}: ")
    assert reason in message
    assert "\n" not in message


@pytest.mark.parametrize(
    ("rules", "line", "reason"),
    [
        ("public <call> = <color>;", 3, "<color> is not defined"),
        ("public <call> = red <call>;", 3, "toys.call → toys.call"),
        ("public <call> = <a>;\n<a> = <b>;\n<b> = red | <a>;", 5, "toys.a → toys.b → toys.a"),
        ("<a> = <a>;\npublic <call> = red;", 3, "refers to itself"),
        ("import <none.*>;\npublic <call> = red;", 3, "no grammar 'none'"),
        ("import <colors.pink>;\npublic <call> = red;", 3, "no rule <pink>"),
        ("import <colors.*>;\npublic <call> = <secret>;", 4, "<secret> is not defined"),
        ("public <call> = <colors.secret>;", 3, "private"),
        ("import <colors.*>;\npublic <call> = <colors.pink>;", 4, "no rule <pink>"),
        ("import <colors.*>;\nimport <paints.*>;\npublic <call> = <warm>;", 5, "could mean"),
        ("import <other.*>;\npublic <call> = red;", 1, "is named 'misnamed'"),
        ("<call> = red;", 1, "no public rule <call>"),
    ],
)
def test_rules_that_cannot_be_joined(rules: str, line: int, reason: str) -> None:
    others = {
        "colors": read("public <warm> = red; <secret> = black;", "colors"),
        "paints": read("public <warm> = ochre;", "paints"),
        "other": read("public <warm> = ochre;", "misnamed"),
    }
    with pytest.raises(CompanionError) as refused:
        link(read(rules), "call", others.get)
    message = str(refused.value)
    assert reason in message
    assert f", line {line}: " in message


# --- names --------------------------------------------------------------------------------------

COLORS = {
    "colors": "public <warm> = red | orange; public <cold> = blue;",
    "com.shop.paints": "public <warm> = ochre; public <flat> = <matt>; <matt> = chalk;",
}


def test_import_of_everything_public_and_of_one_rule() -> None:
    found = grammar("import <colors.*>; public <call> = <warm> <cold>;", COLORS)
    assert accepted(found, "red blue", "blue red") == [True, False]
    found = grammar("import <colors.warm>; public <call> = <warm>;", COLORS)
    assert accepted(found, "orange") == [True]
    with pytest.raises(CompanionError, match="<cold> is not defined"):
        grammar("import <colors.warm>; public <call> = <cold>;", COLORS)


def test_own_rules_come_before_imported_ones() -> None:
    found = grammar("import <colors.*>; <warm> = pink; public <call> = <warm>;", COLORS)
    assert accepted(found, "pink", "red") == [True, False]


def test_fully_qualified_name_needs_no_import() -> None:
    found = grammar("public <call> = <com.shop.paints.flat>;", COLORS)
    assert accepted(found, "chalk") == [True]


def test_partly_qualified_name_of_an_imported_grammar() -> None:
    found = grammar(
        "import <colors.*>; import <com.shop.paints.*>;"
        "public <call> = <paints.warm> | <colors.warm>;",
        COLORS,
    )
    assert accepted(found, "ochre", "red", "chalk") == [True, True, False]


def test_names_inside_an_imported_grammar_are_its_own() -> None:
    found = grammar(
        "import <com.shop.paints.flat>; <matt> = wrong; public <call> = <flat> <matt>;", COLORS
    )
    assert accepted(found, "chalk wrong") == [True]
