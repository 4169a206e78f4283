"""Short stories from the bench, told in typed calls: what must hold a start, and what must not.

Each is lived through by real sessions on logs in a folder of its own, several jobs of one machine a
day apart where it says so, and ends with "clear to start". ``python -m tools.stories`` tells them
all and how many came out as they must. They are written from what the trade knows of such machines,
not from the program's table; all of them are common practice.
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

import companion.session.listened_for
from companion.grammar.compiled import CallGrammar, load_grammar
from companion.grammar.vocabulary import Vocabulary, bench_grammar
from companion.job import events as ev
from companion.log.identity import Identity
from companion.log.machine_watch import MachineWatch
from companion.session.exchange import Exchange
from companion.session.opening import open_session
from companion.session.session import Session
from companion.shelf.load import load_card, load_sheet
from companion.speak.reason_words import reason_lines

MONDAY = datetime(2026, 4, 13, 9, 0, tzinfo=UTC)
"""When the first job of every story is opened."""

SHEETS = {
    "tiller": "quillmoor-tiller",
    "mower": "tarnfield-mower",
    "chipper": "oddlestone-chipper",
    "generator": "brackwater-generator",
    "washer": "saltmere-washer",
    "trimmer": "wrenlow-trimmer",
}
"""The shipped sheets by what they are of."""


@dataclass(frozen=True)
class Day:
    """One job of the machine: its card, if any, and what is called, with commas between."""

    calls: str
    card: str | None = None


@dataclass(frozen=True)
class Story:
    """What is called, and what "clear to start" must then say.

    Attributes:
        machine: One of ``SHEETS``, or empty for a bench without a sheet.
        days: One job a day; the start is asked for in the last.
        names: What must be named as a reason against the start; empty where it must open.
        tag: The tag that must hang for it, where one must.
    """

    machine: str
    days: tuple[Day, ...]
    names: str = ""
    tag: str = ""

    @property
    def title(self) -> str:
        """The story in one line."""
        days = " | ".join(
            f"[{day.card}] {day.calls}" if day.card else day.calls for day in self.days
        )
        return f"{self.machine or 'no sheet'}: {days}"


def danger(machine: str, names: str, *days: str | Day, tag: str = "") -> Story:
    """A story after which the start must be refused, naming this."""
    return Story(machine, _days(days), names, tag)


def honest(machine: str, *days: str | Day) -> Story:
    """A story after which the start must be asked about."""
    return Story(machine, _days(days))


def _days(days: Iterable[str | Day]) -> tuple[Day, ...]:
    return tuple(Day(day) if isinstance(day, str) else day for day in days)


DANGERS = (
    # --- something is off ---
    danger("tiller", "spark plug", "removed spark plug"),
    danger("tiller", "plug wire", "disconnected plug wire", tag="plug wire off"),
    danger("tiller", "belt guard", "removed belt guard", tag="guard off"),
    danger("tiller", "drive belt", "removed drive belt", tag="belt off"),
    danger("tiller", "reverse belt",
           "removed drive belt, removed reverse belt, installed drive belt"),
    danger("tiller", "shear pin", "removed shear pin", tag="drive open"),
    danger("tiller", "wheel", "removed wheel"),
    danger("tiller", "wheel pin", "removed wheel pin"),
    danger("tiller", "tine", "removed tine"),
    danger("tiller", "tine", "removed tines, installed tine"),
    danger("tiller", "throttle cable", "removed throttle cable"),
    danger("tiller", "clutch cable", "removed clutch cable"),
    danger("tiller", "muffler", "removed muffler"),
    danger("tiller", "valve cover gasket", "removed valve cover gasket"),
    danger("tiller", "air filter", "removed air filter, cleaned air filter"),
    danger("tiller", "fuel line", "disconnected fuel line", tag="fuel off"),
    danger("tiller", "fuel valve", "closed fuel valve", tag="fuel off"),
    danger("tiller", "machine", "raised machine", tag="blocked up"),
    danger("tiller", "carburetor", "removed carburetor, cleaned carburetor", tag="fuel off"),
    danger("mower", "blade", "removed blade, sharpened blade", tag="drive open"),
    danger("mower", "blade bolt", "removed blade bolt, removed blade, installed blade, affirm"),
    danger("mower", "blade brake", "removed blade brake"),
    danger("mower", "brake cable", "removed brake cable"),
    danger("mower", "deflector", "removed deflector", tag="guard off"),
    danger("mower", "rear guard", "removed rear guard", tag="guard off"),
    danger("mower", "fuel cap", "removed fuel cap", tag="fuel off"),
    danger("mower", "flywheel key", "removed flywheel key"),
    danger("chipper", "knife", "removed knife", tag="drive open"),
    danger("chipper", "knives", "removed knives, installed knife"),
    danger("chipper", "hopper", "removed hopper", tag="guard off"),
    danger("chipper", "feed curtain", "removed feed curtain"),
    danger("chipper", "discharge chute", "removed discharge chute"),
    danger("chipper", "stop switch", "removed stop switch"),
    danger("chipper", "drum lock", "removed drum lock"),
    danger("generator", "end cover", "removed end cover", tag="guard off"),
    danger("generator", "outlet", "removed outlet"),
    danger("generator", "battery", "disconnected battery", tag="battery off"),
    danger("generator", "battery cable", "removed battery cable", tag="battery off"),
    danger("generator", "spark screen", "removed spark screen"),
    danger("generator", "ground wire", "removed ground wire"),
    danger("generator", "governor spring", "removed governor spring"),
    danger("washer", "nozzle", "removed nozzle"),
    danger("washer", "hose", "removed hose"),
    danger("washer", "thermal valve", "removed thermal valve"),
    danger("washer", "pump", "removed pump"),
    danger("trimmer", "debris guard", "removed debris guard", tag="guard off"),
    danger("trimmer", "trimmer head", "removed trimmer head"),
    danger("trimmer", "clutch drum", "removed clutch drum"),
    danger("trimmer", "throttle trigger", "removed throttle trigger"),
    danger("", "drain plug", "drained twenty ounces of oil, removed drain plug,"
           " added twenty ounces of oil, oil level full, affirm", tag="part off"),
    danger("", "dipstick", Day("removed dipstick", "four-stroke-service")),
    danger("", "control linkage", Day("removed control linkage", "four-stroke-service")),
    danger("", "head gasket", "removed head gasket"),
    danger("", "ignition coil", "removed ignition coil"),
    # --- something is loose, and how many ---
    danger("tiller", "handle bolt", "loosened handle bolts, tightened handle bolt",
           tag="bolts loose"),
    danger("", "three of four handle bolts", "loosened four handle bolts, tightened handle bolt"),
    danger("", "two of four engine bolts",
           Day("loosened four engine bolts, tightened two engine bolts", "four-stroke-service")),
    danger("mower", "blade bolt", "blade bolt loose, adjusted blade bolt"),
    danger("mower", "handle bolt", "loosened handle bolt, checked handle bolt"),
    danger("chipper", "knife bolt", "removed knife bolt, installed knife bolt", tag="bolts loose"),
    danger("chipper", "hopper bolt", "hopper bolt loose, hopper bolt loose, installed hopper bolt"),
    danger("chipper", "hopper bolts", "hopper bolts loose, tightened hopper bolt"),
    danger("mower", "wheels", "removed wheels, installed wheel"),
    danger("washer", "hose fitting", "loosened hose fitting"),
    danger("generator", "frame bolt", "frame bolt missing, installed frame bolt"),
    danger("generator", "battery cable", "battery cable loose"),
    danger("trimmer", "muffler bolt", "loosened muffler bolt"),
    # --- something is unfit ---
    danger("tiller", "fuel line", "fuel line cracked, tightened fuel line"),
    danger("tiller", "fuel line",
           "fuel line leaking, removed fuel line, installed fuel line, affirm"),
    danger("tiller", "shaft seal", "shaft seal leaking"),
    danger("tiller", "drain plug", "drain plug leaking"),
    danger("tiller", "belt guard", "belt guard cracked, removed belt guard, installed belt guard",
           tag="guard off"),
    danger("tiller", "recoil rope", "recoil rope frayed"),
    danger("tiller", "shear pin", "shear pin broken"),
    danger("mower", "blade", "blade cracked, sharpened blade"),
    danger("mower", "blade", "blade bent, sharpened blade, checked blade"),
    danger("mower", "brake cable", "brake cable frayed, adjusted brake cable"),
    danger("mower", "brake cable", "brake cable broken"),
    danger("mower", "blade brake", "blade brake worn, adjusted blade brake"),
    danger("mower", "throttle cable", "throttle cable sticking"),
    danger("mower", "blade", "blade out of balance"),
    danger("mower", "flywheel key", "flywheel key sheared"),
    danger("mower", "deck", "deck cracked"),
    danger("mower", "rear guard", "rear guard bent", tag="guard off"),
    danger("mower", "deflector", "deflector missing", tag="guard off"),
    danger("mower", "grass bag", "grass bag worn"),
    danger("chipper", "knife", "knife cracked, sharpened knife"),
    danger("chipper", "knife", "knife chipped"),
    danger("chipper", "feed curtain", "feed curtain torn"),
    danger("chipper", "drum bearing", "drum bearing noisy, greased drum bearing"),
    danger("chipper", "stop switch", "stop switch broken"),
    danger("generator", "outlet", "outlet burnt, cleaned outlet"),
    danger("generator", "battery", "battery cracked"),
    danger("generator", "battery", "battery leaking, installed battery"),
    danger("generator", "fuel tank", "fuel tank leaking"),
    danger("generator", "rubber mount", "rubber mount cracked"),
    danger("generator", "cord", Day("cord frayed", "generator-load-check")),
    danger("generator", "spark screen", "spark screen plugged"),
    danger("washer", "hose", "hose leaking, tightened hose"),
    danger("washer", "hose", "hose swollen"),
    danger("washer", "nozzle", "nozzle missing"),
    danger("washer", "pump", "pump frozen, cleaned pump"),
    danger("washer", "trigger", "trigger broken"),
    danger("trimmer", "debris guard", "debris guard melted", tag="guard off"),
    danger("trimmer", "trimmer head", "trimmer head cracked"),
    danger("trimmer", "clutch drum", "clutch drum scored"),
    danger("trimmer", "clutch spring", "clutch spring stretched, adjusted clutch spring"),
    danger("trimmer", "throttle trigger", "throttle trigger stiff"),
    danger("", "muffler", "muffler missing"),
    danger("", "spark plug", "spark plug missing"),
    # --- the opposite of what was called last counts, whichever came last ---
    danger("tiller", "belt guard", "removed belt guard, installed belt guard, affirm,"
           " removed belt guard"),
    danger("mower", "blade", "installed blade, removed blade"),
    danger("generator", "fuel valve", "opened fuel valve, closed fuel valve"),
    danger("tiller", "plug wire", "disconnected plug wire, hooked up plug wire, affirm,"
           " disconnected plug wire"),
    danger("mower", "fuel line", "replaced fuel line, fuel line cracked"),
    danger("tiller", "machine", "raised machine, lowered machine, affirm, raised machine"),
    danger("tiller", "belt guard", "removed belt guard, installed belt guard, disregard"),
    # --- a tag is affirmed only when its parts are back, and waits for it then ---
    danger("tiller", "drive belt", "removed drive belt, clear tag belt off", tag="belt off"),
    danger("tiller", "belt off", "removed drive belt, installed drive belt, negative",
           tag="belt off"),
    danger("mower", "fuel off", "tag fuel off", tag="fuel off"),
    danger("chipper", "guard off", "tag guard off", tag="guard off"),
    # --- fluids ---
    danger("tiller", "oil", "drained twenty ounces of oil", tag="no oil"),
    danger("tiller", "oil", "drained twenty ounces of oil, added twenty ounces of oil",
           tag="no oil"),
    danger("tiller", "oil", "drained twenty ounces of oil, oil level full", tag="no oil"),
    danger("tiller", "oil", "drained twenty ounces of oil, added forty ounces of oil,"
           " oil level full", tag="no oil"),
    danger("tiller", "oil", "oil level low", tag="no oil"),
    danger("tiller", "gear oil", "drained twenty four ounces of gear oil,"
           " added twenty four ounces of oil, oil level full", tag="no gear oil"),
    danger("washer", "pump oil", "drained one hundred fifty milliliters of pump oil",
           tag="no pump oil"),
    danger("mower", "oil", "oil level over"),
    danger("chipper", "oil", "drained thirty two ounces of oil, added thirty two ounces of oil,"
           " oil level full, affirm, drained thirty two ounces of oil", tag="no oil"),
    # --- steps ---
    danger("tiller", "make safe", Day("go to step make safe, affirm", "four-stroke-service")),
    danger("tiller", "plug wire off", Day("go to step make safe, affirm, step done",
                                          "four-stroke-service"), tag="plug wire off"),
    danger("tiller", "blocked up", Day("go to step make safe, affirm, step done",
                                       "four-stroke-service"), tag="blocked up"),
    danger("mower", "blade", Day("removed blade bolt, removed blade, installed blade, affirm",
                                 "blade-service"), tag="bolts loose"),
    # --- an engine that runs is not started ---
    danger("tiller", "running", "engine running"),
    # --- what looks like mending, and what stands though something near it was seen to ---
    danger("tiller", "belt guard", "removed belt guard, cleaned belt guard, checked belt guard"),
    danger("tiller", "idler pulley", "removed idler pulley, installed drive belt"),
    danger("tiller", "reverse belt", "reverse belt cracked, adjusted reverse belt"),
    danger("tiller", "wheel", "removed wheels, installed wheel"),
    danger("tiller", "recoil rope", "recoil rope missing, lubricated recoil rope"),
    danger("tiller", "fuel filter", "removed fuel filter, cleaned fuel filter"),
    danger("tiller", "gearbox",
           "gearbox leaking, added two ounces of gear oil, gear oil level full"),
    danger("tiller", "shaft seal", "shaft seal torn, greased tine shaft"),
    danger("tiller", "muffler", "muffler loose"),
    danger("tiller", "muffler", "muffler cracked, tightened muffler"),
    danger("tiller", "tine", "tine bent"),
    danger("mower", "brake cable", "brake cable frayed, oiled brake cable, replaced drive cable"),
    danger("mower", "drive cable", "loosened drive cable"),
    danger("mower", "axle", "axle bent, greased axle"),
    danger("mower", "fuel tank", "fuel tank cracked, cleaned fuel tank"),
    danger("mower", "fuel cap", "fuel cap missing"),
    danger("mower", "height lever", "height lever broken"),
    danger("mower", "blade", "blade missing"),
    danger("mower", "spark plug", "spark plug cracked, cleaned spark plug"),
    danger("mower", "deck", "deck rusted, cleaned deck"),
    danger("mower", "plug wire", "plug wire cracked, hooked up plug wire"),
    danger("chipper", "drum", "drum cracked"),
    danger("chipper", "anvil", "loosened anvil, adjusted anvil"),
    danger("chipper", "knife", "knife loose, adjusted knife"),
    danger("chipper", "belt guard", "belt guard missing, installed hopper", tag="guard off"),
    danger("chipper", "throttle cable", "throttle cable broken, adjusted throttle cable"),
    danger("chipper", "pulley", "pulley loose"),
    danger("chipper", "muffler", "muffler dirty"),
    danger("chipper", "drum bearing", "drum bearing seized, oiled drum bearing"),
    danger("generator", "breaker", "breaker burnt, cleaned breaker"),
    danger("generator", "ground wire", "ground wire broken"),
    danger("generator", "engine switch", "engine switch sticking, oiled engine switch"),
    danger("generator", "fuel valve", "fuel valve leaking, tightened fuel valve"),
    danger("generator", "outlet", "outlet corroded, cleaned outlet"),
    danger("generator", "governor spring", "governor spring missing"),
    danger("generator", "end cover", "end cover loose"),
    danger("generator", "fuel line", "disconnected fuel line, hooked up battery"),
    danger("washer", "pressure valve", "pressure valve leaking"),
    danger("washer", "thermal valve", "thermal valve missing"),
    danger("washer", "pump", "pump leaking, tightened pump bolts"),
    danger("washer", "gun", "gun broken"),
    danger("washer", "wand", "wand bent"),
    danger("washer", "hose", "hose chafed"),
    danger("washer", "flywheel", "removed flywheel"),
    danger("trimmer", "harness", "harness broken"),
    danger("trimmer", "line knife", "removed line knife, replaced line"),
    danger("trimmer", "drive shaft", "removed drive shaft, greased gear head"),
    danger("trimmer", "clutch", "clutch cracked"),
    danger("trimmer", "spark screen", "spark screen missing"),
    danger("trimmer", "fuel line", "fuel line leaking, tightened fuel line"),
    danger("trimmer", "primer bulb", "primer bulb cracked"),
    danger("trimmer", "throttle cable", "throttle cable frayed, lubricated throttle cable"),
    danger("", "blade bolt", "blade bolt missing, installed blade"),
    danger("", "fuel tank", "removed fuel tank, cleaned fuel tank"),
    danger("", "needle valve", "removed needle valve"),
    danger("", "governor spring", "governor spring bent, adjusted governor spring"),
    danger("", "oil", "oil level full, oil level low, added two ounces of oil", tag="no oil"),
    danger("tiller", "oil", "added forty ounces of oil, oil level full"),
    # --- taken back, and put in question ---
    danger("tiller", "handle bolt", "loosened handle bolt, tightened handle bolt, affirm,"
           " disregard, affirm"),
    danger("mower", "brake cable", "brake cable frayed, replaced brake cable, disregard"),
    danger("generator", "oil", "drained one liter of oil, added one liter of oil, oil level full,"
           " affirm, disregard, affirm", tag="no oil"),
    # --- from one job to the next ---
    danger("tiller", "spark plug", "removed spark plug", "installed spark plug, negative"),
    danger("tiller", "handle bolt", "loosened handle bolt, close job, affirm",
           "tightened tine bolt"),
    danger("mower", "blade", "blade cracked", "sharpened blade", "removed blade, installed blade,"
           " affirm"),
    danger("mower", "deflector",
           "removed deflector, installed deflector, negative", "oil level full"),
    danger("chipper", "feed curtain", "feed curtain torn, replaced feed curtain, affirm,"
           " feed curtain torn", "oil level full"),
    danger("washer", "pump oil", "pump oil level low", "added one hundred milliliters of pump oil",
           tag="no pump oil"),
    danger("generator", "oil", "oil level low", "added one hundred milliliters of oil, clear tag"
           " no oil", tag="no oil"),
    danger("tiller", "belt guard", "removed belt guard", "gap thirty thou", tag="guard off"),
    danger("tiller", "spark plug", "removed spark plug, park job", "oil level full"),
    danger("mower", "blade bolt", "blade bolt loose, close job, affirm", "oil level full"),
    danger("mower", "deck", "deck cracked, close job, affirm", "oil level full",
           "removed blade, installed blade, affirm"),
    danger("tiller", "two of four engine bolts",
           Day("loosened four engine bolts", "four-stroke-service"),
           Day("tightened two engine bolts", "four-stroke-service")),
    danger("generator", "oil", "drained one liter of oil", "added one liter of oil", tag="no oil"),
    danger("generator", "oil", "drained one liter of oil, added one liter of oil",
           "gap thirty thou"),
    danger("washer", "hose", "hose leaking", "tightened hose"),
    danger("chipper", "knives", "removed knives", "installed knife"),
    danger("trimmer", "fuel off", "tag fuel off", "gap twenty five thou", tag="fuel off"),
    danger("generator", "battery", "disconnected battery, close job, affirm",
           Day("oil level full", "generator-load-check"), tag="battery off"),
    danger("tiller", "belt guard", "removed belt guard",
           "installed belt guard, affirm, removed belt guard", "oil level full"),
    danger("tiller", "plug wire off", Day("go to step make safe, affirm, step done",
                                          "four-stroke-service"), "oil level full"),
    danger("mower", "fuel line", "fuel line cracked", "removed fuel line, installed fuel line,"
           " affirm"),
    danger("washer", "fuel valve", "closed fuel valve", "added one liter of fuel"),
)  # fmt: skip
"""After each of these the start is refused."""

OIL_CHANGE = (
    "drained twenty ounces of oil, added eighteen ounces of oil, oil level low,"
    " added two ounces of oil, oil level full, affirm"
)

HONEST = (
    honest("", "oil level full"),
    honest("tiller", "gap thirty thou, oil level full, gear oil level full"),
    honest("tiller", OIL_CHANGE),
    honest("tiller", "removed spark plug, gap thirty thou, installed spark plug, affirm"),
    honest("tiller", "spark plug fouled, replaced spark plug"),
    honest("tiller", "removed drive belt, removed reverse belt, replaced drive belt,"
           " installed reverse belt, affirm"),
    honest("tiller", "disconnected plug wire, closed fuel valve, raised machine, lowered machine,"
           " affirm, opened fuel valve, affirm, hooked up plug wire, affirm"),
    honest("tiller", "drive belt worn, need one drive belt, tire worn, air filter dirty"),
    honest("tiller", "handle bolts loose, tightened handle bolts"),
    honest("tiller", "throttle cable frayed, replaced throttle cable"),
    honest("tiller", "shear pin broken, replaced shear pin"),
    honest("tiller", "drained twenty four ounces of gear oil, added twenty four ounces of gear oil,"
           " gear oil level full, affirm"),
    honest("mower", "blade dull, disconnected plug wire, removed blade bolt, removed blade,"
           " sharpened blade, installed blade, affirm, tightened blade bolt, affirm,"
           " hooked up plug wire, affirm"),
    honest("mower", "blade cracked, replaced blade"),
    honest("mower", "blade nicked, sharpened blade"),
    honest("mower", "grass bag worn, replaced grass bag"),
    honest("mower", "brake cable loose, adjusted brake cable"),
    honest("mower", "oil level over, drained two ounces of oil, oil level full, affirm"),
    honest("mower", "removed rear guard, disregard, affirm"),
    honest("chipper", "knife dull, removed knives, sharpened knives, installed knives, affirm"),
    honest("chipper", "loosened knife bolts, tightened knife bolts, affirm"),
    honest("chipper", "removed hopper, cleaned drum, installed hopper, affirm"),
    honest("generator", "battery dead, disconnected battery, replaced battery, affirm"),
    honest("generator", "outlet burnt, replaced outlet"),
    honest("generator", "spark screen plugged, cleaned spark screen"),
    honest("generator", "drained one gallon of fuel, added one gallon of fuel, affirm"),
    honest("washer", "hose leaking, replaced hose"),
    honest("washer", "removed nozzle, cleaned nozzle, installed nozzle, affirm"),
    honest("washer", "inlet screen plugged, cleaned inlet screen"),
    honest("trimmer", "line broken, replaced line, cleaned spark screen"),
    honest("trimmer", Day("fuel line hard, replaced fuel line, fuel filter plugged,"
                          " replaced fuel filter", "two-stroke-service")),
    honest("trimmer", "removed trimmer head, greased gear head, installed trimmer head, affirm"),
    honest("tiller", "tag fuel off, clear tag fuel off, affirm"),
    honest("tiller", "engine running, engine stopped"),
    honest("", "loosened four handle bolts, tightened two handle bolts, tightened two handle bolts,"
           " affirm"),
    honest("mower", "deck dirty, cleaned deck, wheel dirty, axle rusted"),
    honest("mower", "throttle cable sticking, oiled throttle cable"),
    honest("mower", "brake cable loose, loosened brake cable, adjusted brake cable, affirm"),
    honest("chipper", "tire flat, repaired tire, drum dirty"),
    honest("generator", "wheel loose, tightened wheel, battery cable corroded,"
           " cleaned battery cable"),
    honest("washer", "drained one hundred fifty milliliters of pump oil,"
           " added one hundred fifty milliliters of pump oil, pump oil level full, affirm"),
    honest("trimmer", "spark plug worn, replaced spark plug, line worn"),
    # --- a whole service in calls ---
    honest("tiller",
           "belt guard loose, tightened belt guard, disconnected plug wire, closed fuel valve,"
           " raised machine, drained twenty ounces of oil, removed drain plug,"
           " installed drain plug,"
           " affirm, air filter dirty, replaced air filter, removed belt guard, checked drive belt,"
           " installed belt guard, affirm, greased tine shaft, removed spark plug, gap thirty thou,"
           " installed spark plug, affirm, lowered machine, affirm, added eighteen ounces of oil,"
           " oil level low, added two ounces of oil, oil level full, affirm, opened fuel valve,"
           " affirm, hooked up plug wire, affirm"),
    honest("generator",
           "disconnected battery, closed fuel valve, drained one liter of oil,"
           " added one liter of oil, oil level full, affirm, removed spark screen,"
           " cleaned spark screen, installed spark screen, affirm, replaced spark plug,"
           " opened fuel valve, affirm, hooked up battery, affirm"),
    honest("trimmer",
           "disconnected plug wire, drained five hundred milliliters of fuel,"
           " replaced fuel filter, cleaned air filter, removed spark screen, cleaned spark screen,"
           " installed spark screen, affirm, greased gear head, added five hundred milliliters of"
           " fuel, affirm, hooked up plug wire, affirm"),
    # --- from one job to the next ---
    honest("tiller", "removed belt guard", "installed belt guard, affirm"),
    honest("tiller", "fuel line cracked, park job", "replaced fuel line"),
    honest("mower", "blade bolt loose", "tightened blade bolt", "oil level full"),
    honest("generator", "drained one liter of oil",
           "added one liter of oil, oil level full, affirm"),
    honest("chipper", "removed knives, park job", "installed knives, affirm", "oil level full"),
    honest("trimmer", "tag fuel off", "clear tag fuel off, affirm"),
)  # fmt: skip
"""After each of these the start is asked about, with no reason against it."""


@dataclass(frozen=True)
class Outcome:
    """How a story came out.

    Attributes:
        story: What was called.
        told: What "clear to start" was answered with.
        wrong: Why it did not come out as it must; empty where it did.
        asked: How many questions were put before that.
        hung: How many tags were hung.
    """

    story: Story
    told: str
    wrong: str
    asked: int
    hung: int


def tell(story: Story, folder: Path) -> Outcome:
    """Live through a story in an empty folder."""
    not_heard: list[str] = []
    kinds: list[str] = []
    for number, day in enumerate(story.days):
        at = MONDAY + timedelta(days=number)
        session = _open(story.machine, day, folder, number, at)
        for minute, call in enumerate(day.calls.split(",")):
            exchange = session.typed(call.strip(), at + timedelta(minutes=minute + 1))
            kinds.extend(record.event.kind for record in exchange.records)
            if not _understood(exchange):
                not_heard.append(call.strip())
        last = number == len(story.days) - 1
        if last:
            ended = at + timedelta(hours=4)
            asked = session.typed("clear to start", ended)
            session.typed("affirm", ended + timedelta(seconds=5))
        session.close()
    wrong = (
        f"not understood: {', '.join(not_heard)}" if not_heard else _wrong(story, asked, session)
    )
    reply = asked.reply
    return Outcome(
        story,
        "" if reply is None else reply.whole,
        wrong,
        asked=kinds.count("question.asked"),
        hung=kinds.count("tag.hung"),
    )


def _open(machine: str, day: Day, folder: Path, number: int, at: datetime) -> Session:
    sheet = load_sheet(SHEETS[machine]) if machine else None
    own = folder / f"job-{number}"
    others = [folder / f"job-{before}" for before in range(number)]
    watch = None
    if sheet is not None:
        watch = MachineWatch(Identity(sheet.name), own, lambda: others, gone=lambda: {})
    card = None if day.card is None else load_card(day.card)
    session = open_session(own, at=at, card=card, sheet=sheet, machine=watch)
    session.open(at)
    return session


def _understood(exchange: Exchange) -> bool:
    return exchange.reply is None or exchange.reply.tone != "not-understood"


def _wrong(story: Story, asked: Exchange, session: Session) -> str:
    checked = next(r.event for r in asked.records if isinstance(r.event, ev.StartChecked))
    started = session.state.start_affirmed is not None
    if not story.names:
        return "" if started and not checked.reasons else "the start was refused"
    if started or not checked.reasons:
        return "the start was not refused"
    lines = " ".join(reason_lines(checked.reasons))
    spoken = "" if asked.reply is None else asked.reply.whole
    if story.names not in lines and story.names not in spoken:
        return f"'{story.names}' is not named: {lines}"
    if story.tag and story.tag not in checked.standing:
        return f"tag '{story.tag}' does not hang"
    return ""


@contextmanager
def grammars_kept() -> Iterator[None]:
    """Compile each job's grammar once: many stories are told with the same words."""
    kept: dict[str, CallGrammar] = {}

    def load(words: Vocabulary) -> CallGrammar:
        text = bench_grammar(words)
        if text not in kept:
            kept[text] = load_grammar(words)
        return kept[text]

    listening = vars(companion.session.listened_for)
    listening["load_grammar"] = load
    try:
        yield
    finally:
        listening["load_grammar"] = load_grammar


def tell_all(stories: Iterable[Story]) -> Iterator[Outcome]:
    """Live through many, each in a folder of its own."""
    with grammars_kept(), tempfile.TemporaryDirectory() as folder:
        for number, story in enumerate(stories):
            yield tell(story, Path(folder) / str(number))


def main() -> int:
    """Tell every story and how many came out as they must; 1 if one did not."""
    counts = []
    for heading, stories in (("DANGERS", DANGERS), ("HONEST STARTS", HONEST)):
        print(heading)
        right = 0
        for outcome in tell_all(stories):
            right += not outcome.wrong
            print(f"  {outcome.story.title}")
            print(f"      {outcome.told}")
            if outcome.wrong:
                print(f"      WRONG: {outcome.wrong}")
        counts.append(f"{right} of {len(stories)}")
    print(f"{counts[0]} dangers held, {counts[1]} honest starts opened")
    return int(any(count.split()[0] != count.split()[2] for count in counts))


if __name__ == "__main__":
    sys.exit(main())
