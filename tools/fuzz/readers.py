"""Every reader of the program, as a function of bytes.

Each raises what the program would print as one sentence (``CompanionError``), or takes the input.
Files stand in memory where the system has such a place: hundreds of thousands are written.
"""

from __future__ import annotations

import base64
import io
import re
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from datetime import timedelta
from functools import partial
from pathlib import Path

import numpy as np
import soundfile

from companion.errors import CompanionError
from companion.shelf.load import CARDS, SHEETS, load_card, load_sheet
from companion.shipped import shipped
from tests.logs import MONDAY, invented_job, tone
from tools.fuzz import beside, exports, requests
from tools.fuzz.given import Read, Reader, a_data_folder, a_file, a_file_in, a_place
from tools.fuzz.nasty import worse_log, worse_toml

# --- what a person says and writes ----------------------------------------------------------------

CALLS = (
    *(
        "gap thirty one thou",
        "compression 95 psi",
        "added 12.5 ounces of oil",
        "affirm",
        "negative",
    ),
    *(
        "drained three ounces oil",
        "tag no oil",
        "clear tag no oil",
        "timer soak 20 minutes",
        "status",
    ),
    *(
        "correction 28",
        "disregard",
        "next step",
        "note carburetor bowl full of rust",
        "start engine",
    ),
    *(
        "convert 3/8 inch",
        "torque 70 inch pounds",
        "left loose blade bolt",
        "cord frayed",
        "what's open",
    ),
    *(
        "point one",
        "five sixteenths",
        "0,028 in",
        '1.030"',
        "repeat",
        "go back one",
        "used two plugs",
    ),
)


@contextmanager
def typed_lines() -> Iterator[Read]:
    """A live session that lines are typed into; a new one after every few hundred."""
    from companion.files.limits import LONGEST_TYPED
    from companion.live.typed_lines import typed_lines as lines_of
    from companion.session.opening import open_session
    from companion.session.session import Session

    with a_place() as folder:
        card, sheet = load_card("four-stroke-service"), load_sheet("quillmoor-tiller")
        count = begun = 0
        session: Session | None = None

        def read(data: bytes) -> object:
            nonlocal count, begun, session
            if session is None or count >= begun + 300:
                begun = count
                if session is not None:
                    session.close()
                    shutil.rmtree(session.folder)
                session = open_session(folder / f"s{count}", at=MONDAY, card=card, sheet=sheet)
            exchanges = []
            for line in lines_of(io.TextIOWrapper(io.BytesIO(data[: LONGEST_TYPED + 9]), "utf-8")):
                count += 1
                if line is not None:
                    exchanges.append(session.typed(line, MONDAY + timedelta(seconds=count)))
                if len(exchanges) > 3:
                    break
            return exchanges

        yield read
        if session is not None:
            session.close()


@contextmanager
def handbook() -> Iterator[Read]:
    """A topic of the handbook and the figures typed behind it."""
    from companion.handbook.topics import answer

    def read(data: bytes) -> object:
        topic, *words = data.decode(errors="replace").split() or [""]
        return answer(topic, words)

    yield read


def _questions() -> list[bytes]:
    from companion.handbook.topics import TOPICS

    return [each.encode() for topic in TOPICS.values() for each in topic.examples]


def _files(folder: Path, pattern: str, most: int = 4) -> list[bytes]:
    return [path.read_bytes() for path in sorted(folder.rglob(pattern))[:most]]


def _jsgf(path: Path) -> object:
    from companion.grammar.files import read_own_rules
    from companion.grammar.marked import marked_automaton

    return marked_automaton(read_own_rules(path))


_GRAMMARS = [
    b"#JSGF V1.0;\ngrammar own;\npublic <call> = <verb> [the] (bolt | belt) {part} | stop;\n"
    b"<verb> = (set | check)+;\n",
    b"#JSGF V1.0 UTF-8 en;\ngrammar a.b;\n/** doc */\n"
    b"public <x> = /2/ one | /1.5/ two {tag\\}} | /1/ <NULL> three*;\n",
    b'#JSGF V1.0;\ngrammar q;\nimport <q.*>;\npublic <x> = "two words" <y> ; // end\n'
    b"<y> = <VOID> | ten;\n",
]

# --- logs -----------------------------------------------------------------------------------------


def _job() -> bytes:
    with a_place() as folder:
        invented_job(folder / "job")
        return (folder / "job" / "log.jsonl").read_bytes()


def _typed_job() -> bytes:
    from companion.session.opening import open_session

    with a_place() as folder:
        session = open_session(
            folder / "job",
            at=MONDAY,
            card=load_card("four-stroke-service"),
            sheet=load_sheet("quillmoor-tiller"),
        )
        for number, call in enumerate(CALLS, start=1):
            session.typed(call, MONDAY + timedelta(seconds=20 * number))
        session.close()
        return (folder / "job" / "log.jsonl").read_bytes()


@contextmanager
def session_folder(read: Callable[[Path], object]) -> Iterator[Read]:
    """A session folder that somebody else made, with the clips of an invented job."""
    with a_place() as folder:
        clean = folder / "clean"
        invented_job(clean)

        def read_log(data: bytes) -> object:
            job = folder / "job"
            if not job.is_dir():
                shutil.copytree(clean, job)
                (job / "log.tip").unlink(missing_ok=True)
            (job / "log.jsonl").write_bytes(data)
            return read(job)

        yield read_log


def _read_log(folder: Path) -> object:
    from companion.job.folding.evolve import fold
    from companion.log.reader import read_log
    from companion.shelf.rules import shipped_rules

    return fold(read_log(folder).records, shipped_rules())


def _check(folder: Path) -> object:
    from companion.log.check import check_log

    return check_log(folder).lines()


def _pages(folder: Path) -> object:
    """Everything that is made of a log: shown, printed, tabled, put into the index, looked over."""
    from companion.job.folding.evolve import fold
    from companion.log.followed import refuse_senseless
    from companion.log.index_rows import rows_of
    from companion.log.reader import read_log
    from companion.report.handover import render_handover
    from companion.report.hang_tags import render_tags
    from companion.report.log_lines import log_lines
    from companion.report.page import render_report
    from companion.report.parts import as_text, parts_list
    from companion.shelf.rules import shipped_rules
    from companion.transfer.rows import read_session
    from companion.transfer.rows import rows_of as table_rows
    from companion.web.board_view import board_of
    from companion.web.timeline import turns_of

    records = read_log(folder).records
    state = fold(records, shipped_rules())
    log_lines(folder)
    rows_of(folder)
    list(table_rows(read_session(folder), None))
    turns_of(folder, records, state)
    with suppress(CompanionError):
        # As the board itself does: it reckons, where a page only shows.
        refuse_senseless(folder, state)
        board_of(state, None, MONDAY)
    render_report(folder)
    render_handover(folder)
    render_tags(folder)
    return as_text(parts_list(folder))


def _resumed(folder: Path) -> object:
    """Taken up again at the bench, and looked over in the review."""
    from companion.review.reviewer import open_review
    from companion.session.opening import resume_session

    later = MONDAY + timedelta(days=40)
    with open_review(folder) as review:
        review.right(2, by="", at=later)
    session = resume_session(folder, at=later)
    try:
        session.open(later)
        session.tick(later)
        session.typed("status", later + timedelta(seconds=5))
        session.typed("affirm", later + timedelta(seconds=7))
        session.typed("gap thirty thou", later + timedelta(seconds=9))
        return session.typed("start engine", later + timedelta(seconds=12))
    finally:
        session.close()
        shutil.rmtree(folder)


# --- the data folder ------------------------------------------------------------------------------


def _settings(path: Path) -> object:
    from companion.settings import load_settings

    return load_settings(path)


def _ways(path: Path) -> object:
    from companion.enroll.ways_file import WaysFile

    return WaysFile(None, path).read()


def _forms(path: Path) -> object:
    from companion.enroll.used_forms import UsedForms

    return UsedForms(None, path).read()


def _history_of_typing(path: Path) -> object:
    from companion.live.typed_calls import TypedCalls

    return TypedCalls(path).read()


def _voice(data: Path) -> object:
    from companion.enroll.voice_profile import load_voice

    return load_voice("someone")


@contextmanager
def demonstrations() -> Iterator[Read]:
    """The plan of a demonstration, its recordings beside it."""
    from companion.replay import load_replay

    with a_place() as folder, a_file_in(folder, "session.toml") as write:
        for plan in _files(shipped("demo_sessions"), "session.toml"):
            for recording in re.findall(rb'file = "([^"]+)"', plan):
                path = folder / recording.decode()
                path.parent.mkdir(exist_ok=True)
                path.touch()
        yield lambda data: (write(data), load_replay(folder))


# --- files of others ------------------------------------------------------------------------------


def _voices() -> list[bytes]:
    from companion.recognize.phonemes import KINDS

    call = '{"said":"gap 30","clip":"1.flac","heard":"gap 30","outcome":"right"}'
    begins = '{"v":1,"name":"someone","made":"2026-03-02T09:15:00+01:00","model":"a","network":"b"'
    weight, bias = (base64.b64encode(bytes(4 * KINDS * rows)).decode() for rows in (2, 1))
    return [
        f'{begins},"calls":[{call}]}}'.encode(),
        f'{begins},"calls":[{call}],"weight":"{weight}","bias":"{bias}"}}'.encode(),
    ]


def _sound(path: Path) -> object:
    from companion.audio.files import read_sound

    return read_sound(path)


def _sounds() -> list[bytes]:
    made = []
    samples = tone(0.1)
    for kind, subtype in (
        ("WAV", "PCM_16"),
        ("WAV", "FLOAT"),
        ("FLAC", "PCM_16"),
        ("OGG", "VORBIS"),
        ("AIFF", "PCM_24"),
        ("AU", "ULAW"),
    ):
        out = io.BytesIO()
        soundfile.write(out, samples, 16_000, format=kind, subtype=subtype)
        made.append(out.getvalue())
    stereo = io.BytesIO()
    soundfile.write(stereo, np.stack([samples, samples], axis=1), 44_100, format="WAV")
    return [*made, stereo.getvalue()]


def _clips() -> list[bytes]:
    out = io.BytesIO()
    soundfile.write(out, tone(0.1), 16_000, format="FLAC", subtype="PCM_16")
    return [out.getvalue()]


def _clip(folder: Path) -> object:
    from companion.log.clips import read_clip

    return read_clip(folder, "audio/0001.flac")


def _picture(path: Path) -> object:
    from companion.log.pictures import clean_picture, picture_bytes

    return clean_picture(picture_bytes(path), path.name, None)


def _pictures() -> list[bytes]:
    from tests.review_pages import picture

    return [picture(kind, (60, 40)) for kind in ("JPEG", "PNG", "WEBP")]


READERS: tuple[Reader, ...] = (
    Reader("typed lines", typed_lines, lambda: [call.encode() for call in CALLS], runs=5_000),
    Reader("handbook", handbook, _questions),
    Reader("grammars (JSGF)", partial(a_file, "own.gram", _jsgf), lambda: _GRAMMARS),
    Reader(
        "job cards (TOML)",
        partial(a_file, "card.toml", load_card),
        lambda: _files(CARDS, "*.toml"),
        change=worse_toml,
    ),
    Reader(
        "spec sheets (TOML)",
        partial(a_file, "sheet.toml", load_sheet),
        lambda: _files(SHEETS, "*.toml"),
        change=worse_toml,
    ),
    Reader(
        "settings (TOML)",
        partial(a_file, "settings.toml", _settings),
        lambda: [b'call_sign = "shop"\nounce = "imperial"\nboard = true\nboard_port = 8000\n', b""],
        change=worse_toml,
    ),
    Reader(
        "demonstrations (TOML)",
        demonstrations,
        lambda: _files(shipped("demo_sessions"), "session.toml"),
        change=worse_toml,
    ),
    Reader(
        "ways of saying it (TOML)",
        partial(a_file, "ways.toml", _ways),
        lambda: [b'[[way]]\nsay = "juice"\nas = "battery"\n'],
        change=worse_toml,
    ),
    Reader(
        "logs", partial(session_folder, _read_log), lambda: [_job(), _typed_job()], change=worse_log
    ),
    Reader(
        "log check",
        partial(session_folder, _check),
        lambda: [_job()],
        change=worse_log,
        runs=50_000,
    ),
    Reader(
        "pages of a log",
        partial(session_folder, _pages),
        lambda: [_job()],
        change=worse_log,
        runs=20_000,
    ),
    Reader(
        "logs taken up again",
        partial(session_folder, _resumed),
        lambda: [_job()],
        change=worse_log,
        runs=3_000,
    ),
    Reader(
        "forms that are used",
        partial(a_file, "forms.json", _forms),
        lambda: [b'{"": {"reading": 3}, "someone": {"tag": 1}}'],
    ),
    Reader(
        "typed before", partial(a_file, "typed.txt", _history_of_typing), lambda: [b"gap 30 thou\n"]
    ),
    Reader(
        "voices",
        partial(a_data_folder, "voices/someone.json", _voice),
        _voices,
    ),
    Reader("sound", partial(a_file, "call.wav", _sound), _sounds),
    Reader("clips", partial(a_data_folder, "audio/0001.flac", _clip), _clips),
    Reader("photos", partial(a_file, "photo.jpg", _picture), _pictures),
    *exports.READERS,
    *beside.READERS,
    *requests.READERS,
)
"""All of them; ``python -m tools.fuzz`` tries each."""
