"""Commands that read the site book: requirements in force, the log's chain, the ledger."""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from cure import ledger as ledgers
from cure.plans import in_force
from deploy.anchors import Anchors, anchors_of
from deploy.cli_site import DONE, say, setup_of
from deploy.folders import data_folder
from shared.models.decisions import RequirementEdit
from shared.models.setup import BaySettings, Setup
from shared.store import has_book, read_board, verify_log


def verify(args: argparse.Namespace) -> int:
    """Check every line of the site's log against its chain, and against anchors kept elsewhere."""
    setup = setup_of(args)
    folder = data_folder(setup)
    anchors = (anchors_of(setup, folder) if args.anchors is None else Anchors(Path(args.anchors))).read()
    lines, newest = verify_log(setup, folder, anchors)
    if args.json:
        say(json.dumps({"lines": lines, "hash": newest, "anchors": len(anchors)}))
    else:
        say(f"the log is whole: {lines} lines, newest hash {newest}; {len(anchors)} anchors are in it")
    return DONE


def ledger(args: argparse.Namespace) -> int:
    """Show when each operation was wanted, met, signed, told and done, and to what its hours were lost."""
    setup = setup_of(args)
    with read_board(setup, data_folder(setup)) as book:
        rows, zone = ledgers.ledger(book), book.site().site.zone
    if args.json:
        found = {"rows": [r.to_json() for r in rows], "floors": [t.to_json() for t in ledgers.totals(rows)]}
        say(json.dumps(found))
    else:
        say("\n".join(ledgers.lines(rows, zone)) or "no pour yet")
    return DONE


def _edits(setup: Setup) -> Mapping[str, Sequence[RequirementEdit]]:
    """Return what the engineer wrote on the site book, by bay; nothing before the first start."""
    folder = data_folder(setup)
    if not has_book(setup, folder):
        return {}
    with read_board(setup, folder) as book:
        return {bay.id: book.edits(bay.bay_id) for bay in setup.site.bay}


def _written(version: str, setup: Setup, edits: Sequence[RequirementEdit]) -> Mapping[str, str | None]:
    """Return who wrote a requirement, and by which document or for which reason."""
    edit = next((e for e in edits if version == f"edit {e.version}"), None)
    if edit is None:
        plan = setup.site.plan
        return {"who": plan.adopted_by, "second_person": None, "document": plan.document, "why": None}
    return {"who": edit.who, "second_person": edit.second_person, "document": None, "why": edit.why}


def _of_bay(bay: BaySettings, setup: Setup, edits: Sequence[RequirementEdit]) -> Iterator[Mapping[str, Any]]:
    for operation, asked in in_force(setup.site, edits).items():
        yield {
            "bay": bay.id,
            "operation": operation,
            "requirement": str(asked),
            "version": asked.version,
            "signed_by": [str(role) for role in asked.signed_by],
            "each_signs": asked.requirement.each_signs,
            **_written(asked.version, setup, edits),
        }


def requirements(args: argparse.Namespace) -> int:
    """Show what each operation of each bay needs, who signs it, who wrote it and by which document."""
    setup = setup_of(args)
    edits = _edits(setup)
    rows = [row for bay in setup.site.bay for row in _of_bay(bay, setup, edits.get(bay.id, ()))]
    if args.json:
        say(json.dumps(rows))
        return DONE
    for row in rows:
        second = f" and {row['second_person']}" if row["second_person"] else ""
        by = f"{row['who']}{second}, {row['document'] or row['why']}" if row["who"] else "NOT ADOPTED"
        signed = (" and " if row["each_signs"] else " or ").join(row["signed_by"])
        say(f"{row['bay']} {row['operation']}: {row['requirement']}\n    {row['version']}, by {by}; signed by {signed}")
    return DONE
