"""The shop's own key: it signs logs, so that one that was written anew shows."""

from __future__ import annotations

import argparse
from datetime import datetime
from typing import Any

from companion.commands.arguments import add_command, sessions_argument
from companion.commands.given import one_by_one
from companion.errors import CompanionError


def add_to(commands: Any) -> None:
    """Add the commands of this file."""
    family = commands.add_parser("key", help="The shop's key, and signing with it.").add_subparsers(
        required=True, metavar="WHAT"
    )
    add_command(family, "make", make, "companion key make")
    add_command(family, "show", show, "companion key show")
    sessions_argument(add_command(family, "sign", sign, "companion key sign first-session"))


def make(_: argparse.Namespace) -> None:
    """Make the shop's key, once; reports and sign-offs are signed with it from then on."""
    from companion.log.shop_key import key_path, make_key

    public = make_key()
    print(f"Key: {key_path()} (for its owner to read; whoever has it can sign for the shop)")
    print(f"Public key: {public}")


def show(_: argparse.Namespace) -> None:
    """Print the public key, to be kept by whoever wants to check signatures of the shop."""
    from companion.log.shop_key import public_hex, shop_key

    key = shop_key()
    if key is None:
        raise CompanionError("The shop has no key yet; make it with 'companion key make'.")
    print(public_hex(key))


def sign(options: argparse.Namespace) -> int:
    """Sign the log of a session, or of several, as it stands."""
    return one_by_one(options.sessions or [None], _sign)


def _sign(name: str | None) -> None:
    from companion.log.finding import find_session
    from companion.log.signatures import sign_log

    made = sign_log(find_session(name), datetime.now().astimezone())
    if made is None:
        raise CompanionError("The shop has no key yet; make it with 'companion key make'.")
    print(f"Signed: records 1 to {made.anchor.records}, anchor {made.anchor.short}")
    print(f"Public key: {made.public}")
