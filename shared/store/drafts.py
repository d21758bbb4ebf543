"""Drafts as files of the data folder, named by the SHA-256 of their name. No evidence: no backup has them."""

from __future__ import annotations

import json
import os
import shutil
from collections.abc import Mapping
from hashlib import sha256
from pathlib import Path
from typing import Final

from shared.errors import StoreError

FOLDER: Final = "drafts"
LEAST_FREE_BYTES: Final = 2**30
"""Drafts leave the last room of the disk to readings and to the site book, as pictures do."""


class DraftFolder:
    """The `Drafts` port over a folder, made with the first draft."""

    def __init__(self, data: Path, least_free_bytes: int = LEAST_FREE_BYTES) -> None:
        self._folder = data / FOLDER
        self._least_free_bytes = least_free_bytes

    def _path(self, name: str) -> Path:
        return self._folder / f"{sha256(name.encode()).hexdigest()}.json"

    def keep(self, name: str, said: Mapping[str, str]) -> None:
        try:
            self._folder.mkdir(mode=0o700, exist_ok=True)
            if shutil.disk_usage(self._folder).free < self._least_free_bytes:
                raise StoreError("the disk is too full for drafts: make room, or keep what was typed in a file")
            self._write(self._path(name), json.dumps({"name": name, "said": dict(said)}))
        except OSError as error:
            raise StoreError(f"the draft could not be kept: {error.strerror}") from error

    def _write(self, path: Path, text: str) -> None:
        part = path.with_suffix(f".{os.getpid()}.part")
        try:
            with part.open("w", encoding="utf-8") as file:
                os.fchmod(file.fileno(), 0o600)
                file.write(text)
                file.flush()
                os.fsync(file.fileno())
            part.rename(path)
        finally:
            part.unlink(missing_ok=True)

    def read(self, name: str) -> Mapping[str, str] | None:
        try:
            held = json.loads(self._path(name).read_text(encoding="utf-8"))
        except FileNotFoundError:
            return None
        except ValueError:
            # A file that was damaged, or changed by hand, is no draft.
            return None
        except OSError as error:
            raise StoreError(f"a draft could not be read: {error.strerror}") from error
        if not isinstance(held, dict) or held.get("name") != name or not isinstance(held.get("said"), dict):
            return None
        return {str(key): str(value) for key, value in held["said"].items()}

    def drop(self, name: str) -> None:
        try:
            self._path(name).unlink(missing_ok=True)
        except OSError as error:
            raise StoreError(f"a draft could not be thrown away: {error.strerror}") from error
