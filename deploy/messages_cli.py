"""`slabhour messages`: what was told to whom, in its exact words; and once more."""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from alerts.site_words import FOLDER, load
from alerts.wording import words
from deploy.cli_acts import RESEND, add_act
from deploy.cli_site import DONE, REFUSED, add_site, complain, say, setup_of
from deploy.folders import data_folder
from shared.catalogue import ENGLISH, Catalogue
from shared.models.messages import Delivery, Message
from shared.models.setup import SiteFile
from shared.ports import BoardBook
from shared.shifts import site_hour
from shared.store import read_board


def add_messages(parser: argparse.ArgumentParser) -> None:
    """Give the command its arguments."""
    add_site(parser)
    parser.set_defaults(run=_list)
    below = parser.add_subparsers(metavar="WHAT")
    show = below.add_parser("show", help="the exact texts of one message")
    show.add_argument("message", type=int, help="number of the message")
    add_site(show, below=True)
    show.set_defaults(run=_show)
    add_act(below.add_parser("resend", help=RESEND.says, description=RESEND.says), RESEND, below=True)


def _of(deliveries: Sequence[Delivery], message: Message) -> list[Delivery]:
    return [d for d in deliveries if d.message == message.no]


def _json(message: Message, deliveries: Sequence[Delivery]) -> Mapping[str, Any]:
    return {
        "no": message.no,
        "code": message.code,
        "kind": message.kind,
        "bay": message.facts.get("bay", ""),
        "pour": message.pour,
        "subject": message.subject,
        "epoch": message.epoch,
        "at_ms": message.at_ms,
        "valid_until_ms": message.valid_until_ms,
        "deliveries": [
            {
                "recipient": d.recipient,
                "channel": d.channel,
                "state": d.state,
                "attempts": d.attempt,
                "accepted_ms": d.accepted_ms,
                "outcome": d.outcome,
            }
            for d in deliveries
        ],
    }


def _line(message: Message, deliveries: Sequence[Delivery], zone: str) -> str:
    at = site_hour(message.at_ms, zone)
    about = " ".join(str(p) for p in (message.facts.get("bay", ""), message.pour, message.subject) if p) or "the site"
    told = ", ".join(f"{d.recipient}/{d.channel} {d.state}" for d in deliveries) or "to nobody yet"
    return f"no. {message.no}  {message.code}  {at}  {message.kind}  {about}: {told}"


def _list(args: argparse.Namespace) -> int:
    """List every message with the state of its deliveries."""
    setup = setup_of(args)
    with read_board(setup, data_folder(setup)) as book:
        messages, deliveries, zone = book.messages(), book.deliveries(), book.site().site.zone
    if args.json:
        say(json.dumps([_json(m, _of(deliveries, m)) for m in messages]))
        return DONE
    for message in messages:
        say(_line(message, _of(deliveries, message), zone))
    if not messages:
        say("no message yet")
    return DONE


def _languages(site: SiteFile, deliveries: Sequence[Delivery]) -> Iterator[str]:
    people = (site.person(d.recipient) for d in deliveries)
    yield from dict.fromkeys([p.language for p in people if p is not None] or [ENGLISH])


def _texts(book: BoardBook, message: Message, own: Catalogue) -> Iterator[Mapping[str, Any]]:
    deliveries = _of(book.deliveries(), message)
    for language in _languages(book.site(), deliveries):
        text = words(message, repeat=False, language=language, catalogue=own)
        yield {"language": language, "subject": text.subject, "short": text.short, "body": text.body}


def _show(args: argparse.Namespace) -> int:
    """Show the texts of one message in its readers' languages."""
    setup = setup_of(args)
    own = load(Path(setup.folder, FOLDER))
    with read_board(setup, data_folder(setup)) as book:
        message = next((m for m in book.messages() if m.no == args.message), None)
        if message is None:
            complain(f"there is no message no. {args.message}")
            return REFUSED
        texts = list(_texts(book, message, own))
        deliveries, zone = _of(book.deliveries(), message), book.site().site.zone
    if args.json:
        say(json.dumps({**_json(message, deliveries), "texts": texts}, ensure_ascii=False))
        return DONE
    say(_line(message, deliveries, zone))
    for text in texts:
        say(f"\n[{text['language']}] short: {text['short']}\nsubject: {text['subject']}\n{text['body']}")
    return DONE
