"""Channel "reach": whatever apprise reaches - SMS gateways, push, chat. The URL is a secret and lives in a file."""

from __future__ import annotations

import logging
from pathlib import Path

from alerts.channels import Answer, Job, accepted, never, not_now, unsure


def send(job: Job) -> Answer:
    """Try once. Only apprise's own clear success counts: its results are never true, false or none by themselves."""
    try:
        url = Path(job["to"]["url_file"]).read_text(encoding="utf-8").strip()
    except (OSError, ValueError) as error:
        return not_now(f"the URL file cannot be read: {type(error).__name__}")
    if not url or len(url.split()) != 1:
        return not_now("the URL file does not hold one URL")
    return _notify(url, job)


def _notify(url: str, job: Job) -> Answer:
    # apprise logs URLs with what is secret in them, and is too slow to be imported by the other channels.
    logging.disable(logging.CRITICAL)
    from apprise import Apprise, AppriseAsset, AppriseResultStatus

    service = Apprise(asset=AppriseAsset(async_mode=False, default_service_retry=0, http_redirects=False))
    if service.add(url) is not True or len(service) != 1:
        return never("apprise does not know this kind of URL")
    one = service[0]
    if one.optional or one.retry or one.redirects:
        return never("the URL asks for optional, retry or redirect: then a failure would look like success")
    text = job["text"]
    title, body = ("", text["short"]) if job["to"]["short"] else (text["subject"], text["body"])
    status = service.notify(body=body, title=title).status
    if status is AppriseResultStatus.SUCCESS:
        return accepted("accepted through apprise")
    if status is AppriseResultStatus.NOMATCH:
        return never("apprise found no service")
    # apprise does not say whether it failed before or after the other side had taken it.
    return unsure(f"apprise answered {status.name}")
