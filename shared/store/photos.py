"""Pictures as files of the data folder, named by their SHA-256: written once, never changed, copied once by backups."""

from __future__ import annotations

import os
import re
import shutil
from hashlib import sha256
from pathlib import Path
from typing import Final

from shared.errors import StoreError

FOLDER: Final = "photos"
DIGEST: Final = re.compile(r"^[0-9a-f]{64}$")
LEAST_FREE_BYTES: Final = 2**30
"""Pictures leave the last room of the disk to readings and to the site book."""


class PhotoFolder:
    """The `Photos` port over a folder, made with the first picture."""

    def __init__(self, data: Path, least_free_bytes: int = LEAST_FREE_BYTES) -> None:
        self._folder = data / FOLDER
        self._least_free_bytes = least_free_bytes

    def keep(self, body: bytes) -> tuple[str, bool]:
        digest = sha256(body).hexdigest()
        try:
            if self.read(digest) is not None:
                return digest, False
            self._folder.mkdir(mode=0o700, exist_ok=True)
            if shutil.disk_usage(self._folder).free - len(body) < self._least_free_bytes:
                raise StoreError("the disk is too full for pictures: enter the ticket without one, and make room")
            self._write(digest, body)
        except OSError as error:
            raise StoreError(f"the picture could not be kept: {error.strerror}") from error
        return digest, True

    def _write(self, digest: str, body: bytes) -> None:
        part = self._folder / f".{digest}.{os.getpid()}.part"
        try:
            with part.open("wb") as file:
                os.fchmod(file.fileno(), 0o600)
                file.write(body)
                file.flush()
                os.fsync(file.fileno())
            part.rename(self._folder / digest)
        finally:
            part.unlink(missing_ok=True)
        directory = os.open(self._folder, os.O_RDONLY | os.O_DIRECTORY)
        try:
            os.fsync(directory)
        finally:
            os.close(directory)

    def read(self, digest: str) -> bytes | None:
        if not DIGEST.match(digest):
            return None
        try:
            body = (self._folder / digest).read_bytes()
        except FileNotFoundError:
            return None
        except OSError as error:
            raise StoreError(f"a picture could not be read: {error.strerror}") from error
        return body if sha256(body).hexdigest() == digest else None

    def drop(self, digest: str) -> None:
        if DIGEST.match(digest):
            try:
                (self._folder / digest).unlink(missing_ok=True)
            except OSError as error:
                raise StoreError(f"a picture could not be taken away: {error.strerror}") from error


def copy_missing(from_data: Path, to: Path) -> int:
    """Copy the pictures of a data folder, or of a folder of backups, that are not in another yet; return how many.

    Raises:
        OSError: one could not be copied.
    """
    source, target, copied = from_data / FOLDER, to / FOLDER, 0
    if not source.is_dir():
        return 0
    there = PhotoFolder(to, least_free_bytes=0)
    target.mkdir(mode=0o700, parents=True, exist_ok=True)
    for path in sorted(source.iterdir()):
        if DIGEST.match(path.name) and not (target / path.name).exists():
            there.keep(path.read_bytes())
            copied += 1
    return copied
