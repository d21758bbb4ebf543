"""Channel "inbox": one JSON line a message, appended to a file in the data folder."""

from __future__ import annotations

import fcntl
import json
import os
from pathlib import Path

from alerts.channels import Answer, Job, accepted, not_now, unsure


def send(job: Job) -> Answer:
    """Append the line and make it durable. A line that a killed writer left half is closed off first."""
    who = {"number": job["number"], "numbers": job["numbers"], "site": job["site"], "recipient": job["recipient"]}
    line = json.dumps({**who, **job["text"]}, ensure_ascii=False) + "\n"
    path = Path(job["data"]) / job["to"]["file"]
    try:
        inbox = os.open(path, os.O_RDWR | os.O_CREAT | os.O_APPEND | os.O_NOFOLLOW | os.O_CLOEXEC, 0o640)
    except OSError as error:
        return not_now(f"the inbox file cannot be opened: {error.strerror}")
    try:
        fcntl.flock(inbox, fcntl.LOCK_EX)
        size = os.fstat(inbox).st_size
        torn = size > 0 and os.pread(inbox, 1, size - 1) != b"\n"
        data = ("\n" if torn else "").encode() + line.encode("utf-8")
        written = os.write(inbox, data)
        os.fsync(inbox)
    except OSError as error:
        return unsure(f"writing the inbox file failed: {error.strerror}")
    finally:
        os.close(inbox)
    return accepted("appended") if written == len(data) else unsure("the inbox file took only a part")
