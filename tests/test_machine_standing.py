"""The machine's standing: what one job left off, open or leaking holds the start in every other."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from companion.cli import main
from companion.job.state import State
from companion.log.identity import Identity, SeveralMachines, identity_of
from companion.log.line import LOG_NAME
from companion.log.machine_watch import MachineWatch
from companion.log.other_places import LIST_NAME, list_other_place
from companion.log.sessions import new_session_folder
from companion.session.opening import open_session, resume_session
from companion.session.session import Session
from companion.shelf.load import load_sheet
from companion.shelf.rules import shipped_rules

MONDAY = datetime(2024, 3, 4, 9, 0, tzinfo=UTC)
MOWER = load_sheet("tarnfield-mower")


class Shop:
    """Sessions of a shop in one folder, each an hour after the one before."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.at = MONDAY

    def folders(self) -> list[Path]:
        return sorted(path for path in self.folder.iterdir() if path.is_dir())

    def open(self, name: str, machine: str | None = None, serial: str | None = None) -> Session:
        self.at += timedelta(hours=1)
        folder = self.folder / name
        watch = MachineWatch(
            Identity(machine or MOWER.name, serial), folder, self.folders, gone=dict
        )
        return open_session(folder, at=self.at, sheet=MOWER, machine=watch)

    def resume(self, name: str) -> Session:
        self.at += timedelta(hours=1)

        def watch(state: State) -> MachineWatch | None:
            identity = identity_of(state)
            assert identity is not None
            return MachineWatch(identity, self.folder / name, self.folders, gone=dict)

        return resume_session(self.folder / name, at=self.at, watch=watch)

    def said(self, session: Session, *calls: str) -> str:
        """The whole of the answer to the last of these calls; to the opening if there is none."""
        replies = [session.open(self.at)] if not calls else []
        for call in calls:
            self.at += timedelta(minutes=1)
            replies.append(session.typed(call, self.at))
        reply = replies[-1].reply
        return "" if reply is None else reply.whole


@pytest.fixture
def shop(tmp_path: Path) -> Shop:
    return Shop(tmp_path)


def test_a_blade_left_off_holds_the_start_in_the_next_job_and_is_said_first(shop: Shop) -> None:
    with_blade_off = shop.open("first")
    shop.said(with_blade_off, "removed blade", "close job", "yes")
    with_blade_off.close()
    shop.at += timedelta(days=3)
    session = shop.open("second")
    assert shop.said(session).startswith(
        "One tag hangs. Drive open: blade was removed, three days ago."
    )
    assert "Tag drive open: blade was removed, three days ago" in shop.said(
        session, "clear to start"
    )
    shop.said(session, "installed blade", "yes")
    assert shop.said(session, "clear to start").endswith("Clear to start?")


def test_what_was_mended_in_one_job_is_mended_in_the_one_that_was_parked(shop: Shop) -> None:
    first = shop.open("first")
    shop.said(first, "removed blade", "fuel line leaking", "park job")
    first.close()
    second = shop.open("second")
    shop.said(second, "installed blade", "yes", "replaced fuel line", "close job", "yes")
    second.close()
    again = shop.resume("first")
    shop.said(again)
    assert shop.said(again, "clear to start").endswith("Clear to start?")


def test_an_open_job_sees_what_another_does_before_it_lets_the_engine_start(shop: Shop) -> None:
    first = shop.open("first")
    assert shop.said(first, "clear to start").endswith("Clear to start?")
    second = shop.open("second")
    shop.said(second, "removed blade")
    assert "blade was removed" in shop.said(first, "yes")
    assert "blade was removed" in shop.said(first, "clear to start")


def test_counts_and_findings_cross_from_job_to_job(shop: Shop) -> None:
    first = shop.open("first")
    shop.said(first, "loosened four blade bolts", "tightened blade bolt", "yes", "park job")
    first.close()
    second = shop.open("second")
    assert "three blade bolts were loosened" in shop.said(second, "clear to start")
    shop.said(second, "tightened two blade bolts")
    second.close()
    third = shop.open("third")
    assert "blade bolt was loosened" in shop.said(third, "clear to start")


def test_a_sump_drained_in_one_job_is_filled_in_the_next(shop: Shop) -> None:
    first = shop.open("first")
    shop.said(first, "drained 18 ounces of oil", "park job")
    first.close()
    second = shop.open("second")
    assert "oil was drained" in shop.said(second, "clear to start")
    assert "Clear tag no oil?" in shop.said(second, "added 18 ounces of oil", "oil level full")
    shop.said(second, "yes")
    assert shop.said(second, "clear to start").endswith("Clear to start?")
    second.close()
    third = shop.open("third")
    assert shop.said(third, "clear to start").endswith("Clear to start?")


def test_two_machines_of_one_model_are_two(shop: Shop) -> None:
    one = shop.open("one", serial="A1")
    shop.said(one, "removed blade", "close job", "yes")
    one.close()
    two = shop.open("two", serial="B2")
    assert shop.said(two, "clear to start").endswith("Clear to start?")
    two.close()
    assert "blade was removed" in shop.said(shop.open("three", serial="a1"), "clear to start")
    with pytest.raises(SeveralMachines, match=r"serial numbers .* say which"):
        shop.open("which")
    assert not (shop.folder / "which").exists()


def test_a_machine_may_have_a_name_of_its_own(shop: Shop) -> None:
    one = shop.open("one", machine="the green one")
    shop.said(one, "removed blade", "close job", "yes")
    one.close()
    assert shop.said(shop.open("two"), "clear to start").endswith("Clear to start?")
    assert "blade was removed" in shop.said(
        shop.open("three", machine="The green one"), "clear to start"
    )


def test_one_serial_number_under_two_names_is_told_and_not_merged(shop: Shop) -> None:
    shop.open("one", machine="the green one", serial="A1").close()
    watch = MachineWatch(Identity(MOWER.name, "A1"), shop.folder / "two", shop.folders, gone=dict)
    assert watch.namesakes() == ("the green one",)
    assert watch.known().facts == ()


@pytest.mark.parametrize("damage", ["first line", "middle"])
def test_a_log_that_cannot_be_read_is_unknown_and_never_clear(shop: Shop, damage: str) -> None:
    name = "2024-03-04-0900-tarnfield-walk-behind-mower"
    first = shop.open(name)
    shop.said(first, "removed blade", "installed blade", "yes", "gap thirty thou", "close job")
    first.close()
    log = shop.folder / name / LOG_NAME
    lines = log.read_bytes().splitlines(keepends=True)
    lines[0 if damage == "first line" else len(lines) // 2] = b"{torn\n"
    log.write_bytes(b"".join(lines))
    session = shop.open("second")
    assert "Log unread: a log of this machine cannot be read." in shop.said(session)
    assert "Tag log unread" in shop.said(session, "clear to start")
    assert "Clear tag log unread?" in shop.said(session, "clear tag log unread")
    shop.said(session, "yes")
    assert shop.said(session, "clear to start").endswith("Clear to start?")


def test_a_log_of_another_machine_that_cannot_be_read_says_nothing_of_this_one(shop: Shop) -> None:
    other = shop.folder / "2024-03-04-0900-quillmoor-tiller"
    other.mkdir()
    (other / LOG_NAME).write_text("{torn\n")
    assert shop.said(shop.open("second"), "clear to start").endswith("Clear to start?")


def test_a_job_beside_a_parked_one_says_so_and_offers_to_go_on_with_it(shop: Shop) -> None:
    first = shop.open("first")
    shop.said(first, "park job")
    first.close()
    second = shop.open("second")
    assert shop.said(second).endswith("A job on this machine is parked. Go on with it instead?")
    shop.said(second, "yes")
    assert second.state.closed
    assert second.state.go_on_with == "first"


def test_closing_with_a_finding_that_stands_needs_an_affirm_and_leaves_it(shop: Shop) -> None:
    session = shop.open("first")
    assert shop.said(session, "blade cracked", "close job") == (
        "Still so: blade was called cracked. Close the job all the same?"
    )
    shop.said(session, "yes")
    session.close()
    assert "Blade was called cracked" in shop.said(shop.open("second"), "clear to start")


def test_follow_ups_and_parts_needed_are_told_until_they_are_seen_to(shop: Shop) -> None:
    first = shop.open("first")
    shop.said(first, "follow up carburetor", "need two blade bolts", "close job", "yes")
    first.close()
    second = shop.open("second")
    said = shop.said(second)
    assert "From before: follow up carburetor, still needed two blade bolts." in said
    shop.said(second, "cleaned carburetor", "used two blade bolts", "close job")
    second.close()
    assert "carburetor" not in shop.said(shop.open("third"))


def test_calls_in_an_impossible_order_are_recorded_and_break_nothing(shop: Shop) -> None:
    first = shop.open("first")
    shop.said(first, "installed blade", "tightened blade bolts", "hooked up battery")
    assert shop.said(first, "clear to start").endswith("Clear to start?")


def test_what_stands_is_listed_with_the_sessions(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("BENCH_COMPANION_DATA", str(tmp_path))
    (tmp_path / "sessions").mkdir()
    shop = Shop(tmp_path / "sessions")
    first = shop.open("first")
    shop.said(first, "removed blade", "fuel line leaking", "close job", "yes")
    first.close()
    assert main(["sessions"]) == 0
    out = capsys.readouterr().out
    assert f"{MOWER.name}: DO NOT START: drive open, fuel line leaking" in out


def test_a_session_whose_folder_is_gone_is_unknown_until_it_is_forgotten(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    data, put = tmp_path / "data", tmp_path / "put"
    monkeypatch.setenv("BENCH_COMPANION_DATA", str(data))
    list_other_place(put, MOWER.name)
    watch = MachineWatch(Identity(MOWER.name), data / "sessions" / "new")
    assert watch.known().unread == ("put",)
    assert main(["sessions"]) == 0
    assert f"put  gone: {put} is not there any more" in capsys.readouterr().out
    assert main(["sessions", "--forget", "nothing"]) == 1
    assert main(["sessions", "--forget", "put"]) == 0
    assert watch.known().unread == ()
    assert (data / LIST_NAME).read_text() == ""


def test_the_rules_are_printed_for_the_shop_to_read(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["tags", "--rules"]) == 0
    out = capsys.readouterr().out
    for tag in shipped_rules().dangers.why:
        assert f"  {tag}: " in out
    assert "any other part: removed or disconnected: tag part off" in out
    assert "any other part: anything else: holds the start, until replaced or repaired" in out


def test_two_sheets_of_one_name_without_serials_are_one_machine(shop: Shop) -> None:
    """A name is all there is to tell them by: what is unknown counts as standing."""
    shop.said(shop.open("first", serial=None), "removed blade")
    assert "blade was removed" in shop.said(shop.open("second", serial="C3"), "clear to start")


def test_a_serial_number_of_no_machine_is_wrong_use(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["work", "--typed", "--serial", "A1"]) == 2
    assert "--serial is of a machine" in capsys.readouterr().err


def test_a_session_folder_whose_log_is_gone_is_unknown_and_its_name_is_not_taken(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("BENCH_COMPANION_DATA", str(tmp_path))
    folder = new_session_folder(MONDAY, MOWER.name)
    watch = MachineWatch(Identity(MOWER.name), folder)
    open_session(folder, at=MONDAY, sheet=MOWER, machine=watch).close()
    (folder / LOG_NAME).unlink()
    again = new_session_folder(MONDAY, MOWER.name)
    assert again.name == f"{folder.name}-2"
    assert MachineWatch(Identity(MOWER.name), again).known().unread == (folder.name,)
    assert MachineWatch(Identity("another"), again).known().unread == ()
