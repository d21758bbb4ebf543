"""Stories of gates: sites with plans, requirements, mixes and edits of a test's own."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import cache
from typing import Any, Final

from cure_support import Story, make_case
from store_support import make_calibration, make_site, site_dict

from shared.models.base import Operation
from shared.models.decisions import Finding, RequirementEdit, Verdict
from shared.models.messages import MessageKind, NewMessage
from shared.models.people import Role
from shared.models.requirement import Requirement
from shared.models.setup import SiteFile

OTHER_MIX: Final = "c25"
SLOW: Final = make_calibration(OTHER_MIX, parameters={"su_mpa": 30.0, "tau_h": 60.0, "beta": 0.9})
"""A mix that is at 24 h far from where the bay's own is."""
CRANE: Final = Operation("crane pad")


def site_with(plan: Mapping[str, Any] | None = None, **changes: Any) -> SiteFile:
    """Return a site with one person of each role, a second one of QC, two mixes, and changes of the plan."""
    inbox = [{"kind": "inbox"}]
    people = [{"id": role.value, "role": role.value, "channels": inbox} for role in Role]
    mixes = [
        {"id": name, "supplementary": False, "specified_mpa": 32.0, "calibration": f"calibrations/{name}-v1.toml"}
        for name in ("c32-f", OTHER_MIX)
    ]
    whole = {
        "recipient": [*people, {"id": "qc-two", "role": "qc"}],
        "plan": {**site_dict()["plan"], **(plan or {})},
        "mix": mixes,
    }
    return make_site(**(whole | changes))


def requirement(operation: str, *rules: Mapping[str, Any], **changes: Any) -> Requirement:
    """Return a requirement as a site file writes it."""
    return Requirement.model_validate({"operation": operation, "all": list(rules), **changes})


def edit(version: int, new: Requirement) -> RequirementEdit:
    """Return a requirement that the engineer wrote on the site book."""
    return RequirementEdit(version, 0, "engineer", "superintendent", "rev 3", new)


def resited(story: Story, site: SiteFile) -> Story:
    """Let another set-up be in force from now on."""
    story.case = replace(story.case, site=site, bay=site.bay_named(story.case.bay.bay_id))
    return story


@cache
def _ran(site_json: str, hours: float) -> Story:
    return Story(make_case(SiteFile.model_validate_json(site_json))).run(hours)


def ran(site: SiteFile, hours: float) -> Story:
    """Return a warm pour of a site so many hours after its end; told once, copied for each who asks."""
    return _ran(site.model_dump_json(exclude_none=True), hours).copy()


def verdict_of(story: Story, operation: Operation) -> Verdict:
    """Return the newest verdict of an operation."""
    return next(v for v in story.case.state.verdicts if v.operation == operation)


def finding_of(story: Story, operation: Operation, rule: str) -> Finding | None:
    """Return a finding of the newest verdict, by its rule's words."""
    return next((f for f in verdict_of(story, operation).findings if f.rule == rule), None)


def told_of(story: Story, kind: MessageKind) -> list[NewMessage]:
    """Return all messages of a kind so far."""
    return [m for m in story.messages if m.kind is kind]
