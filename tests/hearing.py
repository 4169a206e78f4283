"""How well calls are heard, and what is made of talk and noise: ``python -m tests.hearing``.

Calls are spoken by synthetic voices, clean and mixed with shop noise; what the companion makes of
each is counted. The voices and talk under ``--tuning`` are those that weights and thresholds were
fitted on; the others, measured by default, were held back from that.
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from companion.grammar.compiled import load_grammar
from companion.intent.decision import Decision, Listening, decide_utterance
from companion.intent.interpret import understand
from companion.recognize.held import HeldRecognizer
from tests.sounds import NOISES, SAMPLE_RATE, Samples, mix, speak, with_pauses

TUNING_VOICES = ("gb", "slt-hts", "awb")
OTHER_VOICES = ("rms", "us-man", "scotland")

CALLS = tuple(
    call.strip()
    for call in """
    gap thirty thou, gap thirteen thou, gap fifty thou, gap fifteen thou, gap twenty eight thou,
    gap thirty one thou, gap point oh three oh inch, gap zero point seven six millimeters,
    compression one twenty p s i, compression ninety five p s i, compression one oh five p s i,
    intake clearance six thou, exhaust clearance eight thou, tire pressure fifteen p s i,
    tire pressure fourteen p s i, engine speed thirty six hundred, engine speed thirty two hundred,
    idle speed fourteen fifty, battery twelve point six volts, battery twelve point four volts,
    air temperature minus five celsius, torque sixteen foot pounds, torque thirty one foot pounds,
    torque twelve and a half newton meters, play one eighth inch, leak down fifteen percent,
    added twenty ounces of oil, added four ounces of oil, drained half a liter of oil,
    drained eighteen ounces of oil, added one more ounce, added half a quart of oil,
    oil level full, oil level low, oil level over, start soak timer two hours,
    start timer fifteen minutes, start warm up timer ten minutes, time left, cancel soak timer,
    roger, tag no oil, clear tag no oil, read tags, clear to start, step done, next step, step back,
    skip step, say step, shear pin broken, drive belt worn, handle bolt loose, greased auger shaft,
    tightened handle bolt, replaced spark plug, cleaned carburetor, need two shear pins,
    used one spark plug, used three bolts, follow up carburetor, correction thirty one thou,
    correction sixteen foot pounds, disregard, affirm, yes, negative, no, say again, read back gap,
    read back oil, read back parts, spec for gap, convert thirty thou to millimeters,
    torque for three eighths grade five, wrench for three eighths bolt,
    mix fifty to one for two gallons, engine running, engine stopped, stand by, resume, park job,
    close job, bench gap thirty thou, bench oil level full, bench roger
    """.replace("\n", " ").split(",")
)

TALK = tuple(
    line.strip()
    for line in """
    did you see the game last night; what time is it; put the kettle on would you; hello; okay;
    that one is going to cost about thirty dollars; where did I put my glasses;
    my brother bought a new truck; the radio is too loud; I need two coffees and a sandwich;
    he said the oil was fine but I don't believe him; this thing is a mess; watch your fingers;
    the blade looks pretty dull to me but what do I know; hold this for a second; alright then;
    and now the weather for the weekend; you have got to be kidding me; stop stop stop;
    it won't start no matter what I try; turn it a little to the left; good morning;
    there are about fifty of them in the box; check the mail when you get a chance; ouch;
    I think we're out of spark plugs; keep going a bit more; let's have lunch at twelve thirty
    """.replace("\n", " ").split(";")
)

CONDITIONS = (("clean", 0.0), ("engine", 20.0), ("engine", 10.0), ("compressor", 10.0))


@dataclass(frozen=True)
class Heard:
    """One call and what became of it."""

    said: str
    voice: str
    condition: str
    outcome: str
    decision: Decision


def main() -> None:
    """Measure and print."""
    options = _options()
    voices: Sequence[str] = TUNING_VOICES if options.tuning else OTHER_VOICES
    ears = HeldRecognizer()
    ears.listen_for(load_grammar())
    print(f"voices: {', '.join(voices)}")
    print(f"{'':<18}{'calls':>6}{'right':>8}{'asked':>8}{'again':>8}{'ignored':>8}{'WRONG':>8}")
    wrong: list[Heard] = []
    for noise, snr in CONDITIONS:
        heard = list(_calls(ears, voices, noise, snr, options.every))
        counts = Counter(one.outcome for one in heard)
        name = noise if noise == "clean" else f"{noise} {snr:.0f} dB"
        shares = (counts[key] / len(heard) for key in ("right", "asked", "again", "ignored"))
        print(
            f"{name:<18}{len(heard):>6}"
            + "".join(f"{share:>8.3f}" for share in shares)
            + f"{counts['wrong'] / len(heard):>8.4f}"
        )
        wrong += [one for one in heard if one.outcome == "wrong"]
    _print_talk(ears, voices)
    for one in wrong:
        print(f"  wrong: {one.condition} {one.voice}: “{one.said}” → “{one.decision.text}”")


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.hearing", description=__doc__)
    parser.add_argument("--tuning", action="store_true", help="the voices that were fitted on")
    parser.add_argument("--every", type=int, default=1, metavar="N", help="only every Nth call")
    return parser.parse_args()


def _calls(
    ears: HeldRecognizer, voices: Sequence[str], noise: str, snr: float, every: int
) -> Iterator[Heard]:
    grammar = load_grammar()
    listening = Listening(answer_awaited=True)
    for number, voice in enumerate(voices):
        for place, said in enumerate(CALLS):
            if (place + number) % every:
                continue
            sound = in_noise(with_pauses(speak(said, voice)), noise, snr, place * 7 + number)
            decision = decide_utterance(ears.recognize(sound), grammar, listening)
            meant = understand(said, grammar, listening).intents[0]
            yield Heard(said, voice, f"{noise} {snr:.0f}", _outcome(decision, meant), decision)


def _outcome(decision: Decision, meant: object) -> str:
    match decision.outcome:
        case "record":
            return "right" if decision.intents[0] == meant else "wrong"
        case "ask":
            return "asked" if meant in decision.intents else "again"
        case "say-again":
            return "again"
        case "ignore":
            return "ignored"


def _print_talk(ears: HeldRecognizer, voices: Sequence[str]) -> None:
    """Talk and noise, with the key held and in open mic: how often something is recorded."""
    grammar = load_grammar()
    sounds = [with_pauses(speak(line, voice)) for voice in voices for line in TALK]
    noises = [NOISES[name](2.5, seed=seed) for name in sorted(NOISES) for seed in range(6)]
    for name, clips in (("talk", sounds), ("noise", noises)):
        recognized = [ears.recognize(clip) for clip in clips]
        for mode, listening in (
            ("push to talk", Listening()),
            ("open mic", Listening(call_sign_needed=True)),
        ):
            outcomes = Counter(
                decide_utterance(one, grammar, listening).outcome for one in recognized
            )
            print(
                f"{name}, {mode:<14}{len(clips):>6}  recorded {outcomes['record']:>3}"
                f"  asked {outcomes['ask']:>3}  say again {outcomes['say-again']:>3}"
                f"  ignored {outcomes['ignore']:>3}"
            )


def in_noise(speech: Samples, noise: str, snr: float, seed: int) -> Samples:
    """Speech with a noise so many dB below it; "clean" is none."""
    if noise == "clean":
        return speech
    sound = NOISES[noise](len(speech) / SAMPLE_RATE + 0.1, seed=seed)
    return mix(speech, sound[: len(speech)], snr)


if __name__ == "__main__":
    main()
