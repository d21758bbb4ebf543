"""`slabhour token`: how other software comes in. A token is shown once, when it is made, and kept nowhere."""

from __future__ import annotations

import argparse
import json
import secrets
from collections.abc import Mapping
from hashlib import sha256
from typing import Any

from deploy.cli_acts import carried_out
from deploy.cli_site import DONE, WRONG_USAGE, add_site, aware, say, setup_of
from deploy.folders import data_folder
from shared.clock import SystemClock
from shared.models.tokens import Scope, Token
from shared.shifts import site_hour
from shared.store import read_tokens

SAYS = "let other software in, in the name of a person: make, list and end its tokens"


def add_tokens(parser: argparse.ArgumentParser) -> None:
    """Give the command its arguments."""
    below = parser.add_subparsers(required=True, metavar="WHAT")
    make = below.add_parser("make", help=_make.__doc__, description=_make.__doc__)
    make.add_argument("name", help="what it is for, such as 'hut screen'")
    make.add_argument("--for", dest="person", required=True, metavar="ID", help="in whose name; their role is its own")
    scopes = [str(scope) for scope in Scope]
    make.add_argument("--scope", action="append", required=True, choices=scopes, help="what it opens; again for more")
    make.add_argument("--until", type=aware, metavar="TIME", help="end of it (default: when somebody ends it)")
    end = below.add_parser("end", help=_end.__doc__, description=_end.__doc__)
    end.add_argument("token", type=int, help="its number; `slabhour token list` shows them")
    for parser_of, run in ((make, _make), (end, _end)):
        parser_of.add_argument("--who", required=True, help="your id in the site file")
        add_site(parser_of)
        parser_of.set_defaults(run=run)
    listing = below.add_parser("list", help=_list.__doc__, description=_list.__doc__)
    add_site(listing)
    listing.set_defaults(run=_list)


def _make(args: argparse.Namespace) -> int:
    """Make a token and show it, this once."""
    token = secrets.token_urlsafe(32)
    given: dict[str, Any] = {"name": args.name, "person": args.person, "scopes": args.scope}
    given |= {"digest": sha256(token.encode()).hexdigest()} | ({} if args.until is None else {"until": args.until})
    if carried_out(setup_of(args), "make_token", args.who, given) is None:
        return WRONG_USAGE
    path = f"/calendar/{token}.ics" if args.scope == [Scope.CALENDAR] else None
    if args.json:
        say(json.dumps({"token": token, "scopes": args.scope, "person": args.person, "path": path}))
        return DONE
    say(f"token for {args.name}, in the name of {args.person} ({', '.join(args.scope)}); it is not shown again:")
    say(token if path is None else path)
    return DONE


def _end(args: argparse.Namespace) -> int:
    """End a token: it opens nothing any more."""
    if carried_out(setup_of(args), "end_token", args.who, {"token": args.token}) is None:
        return WRONG_USAGE
    say(json.dumps({"ended": args.token}) if args.json else f"token {args.token} is ended")
    return DONE


def _json(token: Token, now: int) -> Mapping[str, Any]:
    said = {name: getattr(token, name) for name in ("no", "name", "person", "by", "since_ms", "until_ms", "ended_ms")}
    return {**said, "scopes": sorted(token.scopes), "in_force": token.holds(now)}


def _list(args: argparse.Namespace) -> int:
    """List every token, without its secret: who, for what, since when, whether it is in force."""
    setup, now = setup_of(args), SystemClock().now()
    with read_tokens(setup, data_folder(setup)) as book:
        tokens = book.tokens()
    if args.json:
        say(json.dumps([_json(token, now) for token in tokens]))
        return DONE
    for token in tokens:
        state = "in force" if token.holds(now) else "ended"
        since = site_hour(token.since_ms, setup.site.site.zone)
        scopes = ", ".join(sorted(token.scopes))
        say(f"{token.no}  {state}  {token.name}: {token.person} ({scopes}), made {since} by {token.by}")
    if not tokens:
        say("no token yet")
    return DONE
