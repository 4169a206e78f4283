"""Lines of a TOML text: whatever the layout, each key and element is found where it was written."""

from __future__ import annotations

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.files.toml_lines import Location, TomlLines

TEXT = '''\
# a comment with [brackets] and "quotes"
name = "first"   # after a value
"quoted key" = 'it''s' # [not a table]
a.b = 1
when = 1979-05-27 07:32:00
many = [
  1, # one
  [2,
   3],
  { x = 4, y = [5] },
]
long = """
[not.a.table]
key = "none"
"""

[table.inner]
x = 1

[[step]]
name = "one"

[[step.part]]
name = "p"

[[step.part]]
name = "q"

[step.wait]
minutes = 5

[[step]]
say = \'\'\'
three
lines\'\'\'
last = -0.5

[[step.part]]
name = "r"
'''.replace("'it''s'", "'its'")


@pytest.mark.parametrize(
    ("location", "line"),
    [
        (("name",), 2),
        (("quoted key",), 3),
        (("a", "b"), 4),
        (("when",), 5),
        (("many",), 6),
        (("many", 0), 7),
        (("many", 1), 8),
        (("many", 1, 1), 9),
        (("many", 2, "y", 0), 10),
        (("long",), 12),
        (("table",), 17),
        (("table", "inner", "x"), 18),
        (("step", 0), 20),
        (("step", 0, "name"), 21),
        (("step", 0, "part", 1), 26),
        (("step", 0, "part", 1, "name"), 27),
        (("step", 0, "wait", "minutes"), 30),
        (("step", 1), 32),
        (("step", 1, "say"), 33),
        (("step", 1, "last"), 36),
        (("step", 1, "part", 0, "name"), 39),
        # What is not there is told on the line of what would hold it.
        (("step", 1, "name"), 32),
        (("step", 0, "wait", "timer"), 29),
        (("nothing", 3), 1),
        ((), 1),
    ],
)
def test_where_things_stand(location, line):
    tomllib.loads(TEXT)
    assert TomlLines(TEXT).line_of(location) == line


plain_values = st.sampled_from(
    ["1", "-2.5", "true", "1979-05-27", '"text # [x]"', "'}, ]'", '"a \\" b"', "0x1F", "inf"]
)


@st.composite
def laid_out(draw: st.DrawFn) -> tuple[str, dict[Location, int]]:
    """A TOML text in some layout, and the line of each thing in it."""
    lines: list[str] = []
    where: dict[Location, int] = {}

    def filler() -> None:
        lines.extend(draw(st.lists(st.sampled_from(["", "# [x] = '", "  # }", "\t"]), max_size=2)))

    def pair(prefix: Location, key: str) -> None:
        where[*prefix, key] = len(lines) + 1
        form = draw(st.sampled_from(["plain", "array", "inline", "long"]))
        if form == "plain":
            lines.append(f"{key} = {draw(plain_values)} # ]")
        elif form == "long":
            lines.extend([f'{key} = """', '[[table]] "" # }', 'k = "v', '"""'])
        elif form == "inline":
            where[*prefix, key, "x"] = len(lines) + 1
            lines.append(f"{key} = {{ x = {draw(plain_values)}, y = [{draw(plain_values)}] }}")
        else:
            lines.append(f"{key} = [")
            for index in range(draw(st.integers(0, 3))):
                filler()
                where[*prefix, key, index] = len(lines) + 1
                lines.append(f"  {draw(plain_values)}, # ,")
            lines.append("]")

    for number in range(draw(st.integers(0, 2))):
        filler()
        pair((), f"top{number}")
    for index in range(draw(st.integers(0, 3))):
        filler()
        where["step", index] = len(lines) + 1
        lines.append("[[step]]")
        for number in range(draw(st.integers(0, 3))):
            filler()
            pair(("step", index), f"key{number}")
    return "\n".join(lines) + draw(st.sampled_from(["", "\n"])), where


@given(laid_out())
def test_whatever_the_layout_each_thing_is_found(made):
    text, where = made
    tomllib.loads(text)
    lines = TomlLines(text)
    assert {location: lines.line_of(location) for location in where} == where
