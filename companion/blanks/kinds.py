"""The kinds of machines that a new sheet or card can be begun for."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from companion.blanks.usual import OF_CYCLE, Cycle


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of machine.

    Attributes:
        name: Short, as it is chosen and as a job card's ``fits`` has it: ``mower``.
        said: In words, as a sheet has it.
        cycle: How its engine usually works.
        measures: What is measured on it besides what every engine has.
        fluids: What it takes besides the engine's oil and fuel.
        parts: Parts that are called on it besides those that are always listened for.
        fasteners: Fasteners whose torque is called, besides the spark plug's.
        conditions: What is called wrong with its parts, besides the usual.
    """

    name: str
    said: str
    cycle: Cycle
    measures: tuple[str, ...] = ()
    fluids: tuple[str, ...] = ()
    parts: tuple[str, ...] = ()
    fasteners: tuple[str, ...] = ()
    conditions: tuple[str, ...] = ()

    def measured(self, cycle: Cycle, *, battery: bool) -> tuple[str, ...]:
        """Return what is measured on such a machine, the usual first."""
        of_battery = ("battery", "charging voltage") if battery else ()
        return tuple(dict.fromkeys((*OF_CYCLE[cycle], *self.measures, *of_battery)))

    def filled(self, cycle: Cycle) -> tuple[str, ...]:
        """Return the fluids that such a machine takes."""
        of_engine = {
            "four-stroke": ("oil", "fuel"),
            "two-stroke": ("fuel",),
            "electric": (),
        }
        return (*of_engine[cycle], *self.fluids)

    def tightened(self, cycle: Cycle) -> tuple[str, ...]:
        """Return the fasteners of such a machine whose torque is called."""
        return (*(() if cycle == "electric" else ("plug",)), *self.fasteners)


def _words(text: str) -> tuple[str, ...]:
    return tuple(each.strip() for each in text.split(",") if each.strip())


_ALL = (
    Kind(
        "mower", "walk-behind mower", "four-stroke",
        parts=_words("blade, blade bolt, deck, deflector, rear guard, wheel, throttle cable"),
        fasteners=("blade bolt",), conditions=_words("dull, nicked, out of balance"),
    ),
    Kind(
        "riding mower", "riding mower", "four-stroke", measures=("belt deflection",),
        parts=_words("blade, blade bolt, deck, spindle, idler pulley, front wheel, rear wheel"),
        fasteners=("blade bolt",), conditions=_words("dull, nicked, flat"),
    ),
    Kind(
        "tiller", "tiller", "four-stroke", measures=("belt deflection",), fluids=("gear oil",),
        parts=_words("tine, tine bolt, shear pin, belt guard, handle bolt, wheel, clutch cable"),
        fasteners=("tine bolt",), conditions=_words("torn, dry, flat"),
    ),
    Kind(
        "snow thrower", "snow thrower", "four-stroke", measures=("belt deflection",),
        fluids=("gear oil",),
        parts=_words("auger, auger shaft, shear pin, scraper bar, skid shoe, chute, clutch cable"),
        fasteners=("scraper bolt",), conditions=_words("frozen, dry, flat"),
    ),
    Kind(
        "generator", "portable generator", "four-stroke",
        measures=("output voltage", "output frequency"),
        parts=_words("outlet, breaker, ground wire, volt meter, brush, rubber mount, fuel valve"),
        fasteners=("rotor bolt",), conditions=_words("burnt, dead, corroded"),
    ),
    Kind(
        "washer", "pressure washer", "four-stroke", measures=("pump pressure",),
        fluids=("pump oil",),
        parts=_words("pump, hose, gun, trigger, nozzle, inlet screen, pressure valve"),
        fasteners=("pump bolt",), conditions=_words("frozen, pulsing, milky"),
    ),
    Kind(
        "pump", "water pump", "four-stroke",
        parts=_words("pump, pump seal, hose, strainer, impeller, drain valve"),
        fasteners=("pump bolt",), conditions=_words("frozen, milky"),
    ),
    Kind(
        "chipper", "wood chipper", "four-stroke", measures=("knife clearance", "belt deflection"),
        parts=_words("knife bolt, anvil, drum, drum bearing, hopper, feed curtain, belt guard"),
        fasteners=("knife bolt",), conditions=_words("dull, chipped, noisy"),
    ),
    Kind(
        "trimmer", "string trimmer", "two-stroke",
        parts=_words("trimmer head, line spool, gear head, drive shaft, debris guard, primer bulb"),
        fasteners=("muffler bolt",), conditions=_words("stiff, melted, scored"),
    ),
    Kind(
        "saw", "chain saw", "two-stroke", fluids=("bar oil",),
        parts=_words("chain, guide bar, sprocket, chain brake, clutch drum, primer bulb"),
        fasteners=("bar nut",), conditions=_words("dull, stretched, scored"),
    ),
    Kind(
        "blower", "leaf blower", "two-stroke",
        parts=_words("fan, fan housing, tube, throttle trigger, primer bulb, harness"),
        fasteners=("muffler bolt",), conditions=_words("stiff, melted, scored"),
    ),
    Kind(
        "hedge trimmer", "hedge trimmer", "two-stroke",
        parts=_words("blade, blade bolt, gear case, throttle trigger, primer bulb"),
        fasteners=("blade bolt",), conditions=_words("dull, nicked, stiff"),
    ),
    Kind(
        "engine", "small engine", "four-stroke",
        parts=_words("governor spring, valve cover, oil seal, crankshaft"),
        fasteners=("head bolt",), conditions=_words("scored, sticking"),
    ),
)  # fmt: skip

KINDS: Mapping[str, Kind] = MappingProxyType({kind.name: kind for kind in _ALL})
"""By name; the last one is for whatever the others are not."""

CYCLES: tuple[Cycle, ...] = ("four-stroke", "two-stroke", "electric")
"""How an engine may work."""
