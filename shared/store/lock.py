"""One process owns a data folder: flock on `<folder>/lock`, held until it is given back or the process dies."""

from __future__ import annotations

import ctypes
import fcntl
import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType
from typing import Final, Self

from shared.errors import LockedError, StoreError

NETWORK_FILE_SYSTEMS: Final = {
    0x6969: "NFS",
    0xFF534D42: "CIFS",
    0xFE534D42: "SMB2",
    0x517B: "SMB",
    0x65735546: "FUSE",
    0x00C36400: "CEPH",
    0x5346414F: "AFS",
    0x7461636F: "OCFS2",
    0x01161970: "GFS2",
    0x0BD00BD0: "LUSTRE",
}
"""statfs(2) types on which locks and fsync do not keep what they promise (linux/magic.h)."""


def file_system_type(folder: Path) -> int:
    """Return the statfs(2) type of the file system that holds `folder`."""
    # 512 bytes are more than any ABI's struct statfs; its first word is the type.
    answer = (ctypes.c_long * 64)()
    if ctypes.CDLL(None, use_errno=True).statfs(os.fsencode(folder), answer) != 0:
        number = ctypes.get_errno()
        raise OSError(number, os.strerror(number), str(folder))
    return int(answer[0]) & 0xFFFFFFFF


def _locked(path: Path) -> int | None:
    """Return a file descriptor that holds the lock, or None: somebody else does."""
    fd = os.open(path, os.O_RDWR | os.O_CREAT, 0o600)
    try:
        fcntl.flock(fd, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        os.close(fd)
        return None
    except BaseException:
        os.close(fd)
        raise
    os.ftruncate(fd, 0)
    os.pwrite(fd, f"process {os.getpid()}\n".encode("ascii"), 0)
    return fd


def _owner(path: Path) -> str:
    """Return who holds a lock, in brackets, or nothing."""
    owner = path.read_bytes()[:32].decode("ascii", "replace").strip()
    return f" ({owner})" if owner else ""


@contextmanager
def only_writer(file: Path) -> Iterator[None]:
    """Be the only one that has a store's file open to write.

    The lock is on a file beside it: opening the store's own once more would take SQLite's locks away when it is closed.

    Raises:
        LockedError: another connection writes it, in this process or another.
        StoreError: nothing can be written beside it.
    """
    path = file.with_name(f"{file.name}.lock")
    try:
        fd = _locked(path)
    except OSError as error:
        raise StoreError(f"cannot write beside {file}: {error.strerror}") from error
    if fd is None:
        raise LockedError(
            f"{file.name} is already open to write{_owner(path)}: one connection writes it, all others read; "
            "stop what writes it first"
        )
    try:
        yield
    finally:
        os.close(fd)


class DataLock:
    """Context manager: the only owner of a data folder."""

    def __init__(self, folder: Path, type_of: Callable[[Path], int] = file_system_type) -> None:
        self._folder = folder
        self._type_of = type_of
        self._fd: int | None = None

    def __enter__(self) -> Self:
        try:
            self._folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            self._refuse_network()
            self._fd = self._held()
        except OSError as error:
            raise StoreError(f"cannot use the data folder {self._folder}: {error}") from error
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        # The file stays: removing it would let a third process lock a file that a second one has just opened.
        if self._fd is not None:
            os.close(self._fd)
            self._fd = None

    def _refuse_network(self) -> None:
        name = NETWORK_FILE_SYSTEMS.get(self._type_of(self._folder))
        if name is not None:
            raise StoreError(
                f"{self._folder} is on a network file system ({name}), where the stores cannot be kept whole: "
                "set [site] data to a folder on a disk of this machine"
            )

    def _held(self) -> int:
        path = self._folder / "lock"
        fd = _locked(path)
        if fd is None:
            raise LockedError(
                f"another slabhour process{_owner(path)} owns {self._folder}: stop it first, "
                "or hand the act to it; `slabhour status` reads beside it"
            )
        return fd
