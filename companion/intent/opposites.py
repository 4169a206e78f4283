"""Words that turn a call around, and words that are each other's opposite.

Nothing is understood by its opposite: a technician who says that a blade is *not* on, and hears it
recorded as on, puts a hand where it should not be. So no such word is left out, put in, or taken
for another when a text is matched with the calls by likeness; letters alone do not tell
"uninstalled" from a slip in "installed". One table serves both ways: what is the opposite of a word
has that word for its opposite.

The words are those of common English and of the trade (common practice); which sides of a pair the
grammars know does not matter.
"""

from __future__ import annotations

from functools import cache


def _listed(text: str) -> frozenset[str]:
    return frozenset(text.split())


NEGATIONS = _listed(
    """not no never without none nothing nobody nowhere nor neither non nope nah nay cannot hardly
    scarcely barely rarely seldom ain un dis nt aint cant dont wont shant isnt wasnt arent werent
    dont doesnt didnt couldnt wouldnt shouldnt mustnt neednt hasnt havent hadnt mightnt darent"""
)
"""Words that deny; "isn't" is typed "isnt" as often, and both arrive as that."""

UNDONE = _listed(
    """should will would could might must shall may ought if unless until till almost nearly half
    halfway partly partially supposedly allegedly maybe perhaps probably possibly failed fail fails
    forgot forget forgotten refused refuses unable lacks lacking instead tomorrow later soon planned
    planning intend intended attempted tried trying try pretend pretended avoid avoided want wants
    wanted todo except"""
)
"""Words that make what was done into what was not, not yet, or not wholly done."""

TURNING = NEGATIONS | UNDONE
"""All words that turn a statement around."""

REVERSING = (
    "un", "dis", "de", "in", "im", "il", "ir", "mis", "non", "anti", "mal", "counter", "over",
    "under", "semi", "part", "out",
    *sorted(TURNING - {"un", "dis", "non"}),
)  # fmt: skip
"""Prefixes that turn a word around. "Re" does not: what is reinstalled is on."""

_TURNED_ENDINGS = ("less", "free", "proof", "not")
_SWAPPED = (
    ("in", "ex"), ("in", "de"), ("in", "out"), ("im", "ex"), ("at", "de"), ("ac", "de"),
    ("up", "down"), ("over", "under"), ("pre", "post"), ("max", "min"), ("inter", "exter"),
    ("for", "back"), ("fore", "after"), ("un", "re"), ("dis", "re"), ("as", "disas"),
)  # fmt: skip
"""Beginnings that make opposites of one stem: "inflated", "deflated"."""

_TABLE = """
install installs installed installing fit fits fitted fitting attach attached mount mounted
  reinstalled refitted assembled reassembled | remove removes removed removing detach detached
  dismount dismounted uninstall uninstalled strip stripped disassembled off
tight tighten tightens tightened tightening torqued retightened snug | loose loosen loosens
  loosened loosening slack slacken slackened undo undid undone unscrewed
connect connected connecting reconnect reconnected hooked coupled plugged joined | disconnect
  disconnected disconnecting unhooked uncoupled unplugged parted
open opens opened opening reopened | close closes closed closing shut
raise raises raised raising lift lifted jacked | lower lowers lowered lowering dropped
add adds added adding fill fills filled filling refilled topped | drain drains drained draining
  empty emptied emptying
full | low | over overfull overfilled | empty dry | short | under
high higher tall | low lower
run runs running ran | stop stops stopped stopping stalled dead halted idle
start starts started starting begin began | cancel cancels cancelled canceled cancelling stop
  stopped abort aborted end ended finish finished
hang hangs hung tag tagged hanging | clear clears cleared clearing remove removed untag untagged
  lift lifted
lock locked locking | unlock unlocked
affirm affirms affirmed affirmative yes yeah yep confirm confirmed | negative no nope deny denied
positive plus | negative minus
on | off
in into inside inner internal inward | out outside outer external outward
up upward | down downward
hot warm heated | cold cool cooled
intake inlet induction input | exhaust outlet output
left port | right starboard
front fore forward ahead | rear back aft reverse backward backwards behind
upper top above | lower bottom below beneath
high | low
fine | coarse
dry dried | wet wetted oiled soaked greased lubricated
done complete completed finished | undone incomplete unfinished open
next forward following on | back previous last
good fair sound healthy | bad poor worn faulty defective wrong
strong | weak
clean cleaned cleaning washed | dirty dirtied fouled soiled
clear unblocked unclogged | blocked clogged plugged
new fresh | old used worn
whole intact sound unbroken undamaged | broken cracked damaged torn
straight straightened unbend unbent | bend bent bowed
present | missing absent gone
free freed freely dislodge dislodged unstuck | seized stuck frozen jammed lodge lodged obstruct
  obstructed
repair repaired mend mended fix fixed | break breaks broke broken
loose loosen loosened | stiff stiffen stiffened
affix affixed | unaffixed loose
tight watertight | leak leaks leaked leaking leaky
align aligned | skew skewed misaligned
sharp sharpened sharpening | dull dulled blunt blunted
engage engaged | disengage disengaged
charge charged charging | discharge discharged discharging
inflate inflated | deflate deflated flat
increase increased more | decrease decreased less fewer reduced
fast faster quick | slow slower
long longer | short shorter
thick | thin
wide | narrow
big large larger | small smaller little
rich | lean
drive driving driver | driven
before first | after last
early | late later
live energized powered hot | dead deenergized unpowered
enable enabled | disable disabled
allow allowed permit permitted pass passed passes | forbid forbidden refuse refused fail failed
  fails
safe | unsafe dangerous hazardous
resume resumed continue | stand pause paused park parked
keep kept leave left | replace replaced replacing swap swapped discard discarded
find found | lose lost losing
need needs needed | used
increase raise advance advanced | retard retarded
accept accepted | reject rejected disregard disregarded
male | female
primary | secondary
minimum | maximum
gain gained | lose lost leak leaked leaking
push pushed | pull pulled
apply applied set | release released
same | different other opposite
"""
"""A group a line (a line that is indented goes on with the one before), its sides between bars."""


def _groups() -> tuple[tuple[frozenset[str], ...], ...]:
    lines = _TABLE.replace("\n  ", " ").strip().splitlines()
    return tuple(tuple(frozenset(side.split()) for side in line.split("|")) for line in lines)


GROUPS = _groups()
"""Groups of sides that exclude each other; a side is a set of words that say the same of it."""

OPPOSED = frozenset(word for group in GROUPS for side in group for word in side)
"""Every word that has an opposite in the table."""


@cache
def opposites(word: str) -> frozenset[str]:
    """Return the words of the table that are opposites of this one; empty where it has none."""
    return frozenset(
        other
        for group in GROUPS
        for side in group
        if word in side
        for rival in group
        if rival is not side
        for other in rival - side
    )


@cache
def same_side(word: str) -> frozenset[str]:
    """Return the words that stand on a side with this one, this one among them, but none of its
    opposites."""
    sides = (side for group in GROUPS for side in group if word in side)
    together: frozenset[str] = frozenset().union(*sides)
    return (together | {word}) - opposites(word)


@cache
def turned_forms(word: str) -> frozenset[str]:
    """Return every way in which this word may be turned around by how it begins or ends, whether
    it is a word or not, and its opposites of the table.

    "Tightened": untightened, loosened …; "disconnected": connected …
    """
    forms = {prefix + word for prefix in REVERSING}
    forms |= {word + ending for ending in _TURNED_ENDINGS}
    forms |= {
        word.removeprefix(prefix)
        for prefix in REVERSING
        if word.startswith(prefix) and len(word) - len(prefix) >= _SHORTEST
    }
    for one, other in _SWAPPED:
        for here, there in ((one, other), (other, one)):
            if word.startswith(here) and len(word) - len(here) >= _SHORTEST:
                forms.add(there + word.removeprefix(here))
    return frozenset(forms | opposites(word)) - {word}


def unturned(word: str) -> tuple[str, ...]:
    """Return what a word may be the reversal of: "untightened" of "tightened"."""
    return tuple(
        word.removeprefix(prefix)
        for prefix in REVERSING
        if word.startswith(prefix) and len(word) - len(prefix) >= _SHORTEST
    )


@cache
def crosses(word: str, other: str, *, own: bool) -> bool:
    """Whether taking one word for another may turn a call around.

    Args:
        word: As it was typed or heard.
        other: What it would be taken for.
        own: Whether ``word`` is a word of its own (of the calls or of a dictionary), and so hardly
            a slip.

    Returns:
        True where either denies; where ``word`` is as near to an opposite of ``other``, or to a
        word that denies, as it is to ``other``; where more than a letter was put before ``other``;
        and, of words of their own, where either has an opposite and they do not say the same of it.
    """
    if word == other:
        return False
    if word in TURNING or other in TURNING:
        return True
    if word == f"re{other}" and word not in OPPOSED - same_side(other):
        return False  # what is reinstalled is installed
    if own and (word in OPPOSED or other in OPPOSED) and not _of_one_stem(word, other):
        return True
    if word.endswith(other) and len(word) - len(other) > 1:
        return True
    away = _distance(word, other)
    denials = (denial for denial in NEGATIONS if len(denial) >= _SHORTEST)
    return any(_distance(word, form) <= away for form in (*turned_forms(other), *denials))


def _of_one_stem(word: str, other: str) -> bool:
    """Whether two words say the same of a thing: "tighten", "tightened"."""
    if word in opposites(other):
        return False
    if other in same_side(word):
        return word[:_SHORTEST] == other[:_SHORTEST]
    short, long = sorted((word, other), key=len)
    return len(short) > _SHORTEST and long.startswith(short.removesuffix("e"))


_SHORTEST = 3
"""Letters of the shortest stem."""


def _distance(one: str, other: str) -> int:
    """Letters to change, a swap of neighbours counting once."""
    from rapidfuzz.distance import OSA

    return OSA.distance(one, other)
