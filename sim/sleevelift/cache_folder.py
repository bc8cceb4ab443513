"""The user's cache folder: the one place that decides where what can be computed again is kept, and whether it is believed.

    $XDG_CACHE_HOME, on Windows %LOCALAPPDATA%, else ~/.cache        /sleevelift/gas_nitrogen.npz, liquids.json, kernels-<key>/...
    each file  =  SHA-256 of all that follows, one line end, the content

Machine code is among it, so nothing is read from, or written to, a place that somebody else could have put something into:
every level from the root down, links followed, belongs to this user or to the system's administrator, and nobody else may
write there (a level like /tmp, where only an entry's owner may rename or remove it, may be passed through); the file itself is
this user's, is no link, and nobody else may write to it. There is no second choice: where the folder cannot be had, everything is
made in memory, in every process.

The cache is a convenience: nothing here raises. What cannot be read counts as absent, what cannot be written is not kept.
"""

import hashlib
import os
import stat
import sys
import tempfile
from contextlib import suppress
from pathlib import Path

FOLDER = "sleevelift"
SYSTEM = 0
"""User number of the system's administrator, who could do anything anyway."""
OTHERS = stat.S_IWGRP | stat.S_IWOTH
"""Permission to write for the group and for everybody."""
DIGEST = 64
"""letters of a SHA-256."""
LARGEST = 200_000_000
"""bytes; a larger file is not ours."""


def cache_folder() -> Path:
    """Where things are kept; it may be missing, closed to us or not to be trusted."""
    if os.environ.get("XDG_CACHE_HOME"):
        home = Path(os.environ["XDG_CACHE_HOME"])
    elif sys.platform == "win32" and os.environ.get("LOCALAPPDATA"):
        home = Path(os.environ["LOCALAPPDATA"])
    else:
        home = Path(os.path.expanduser("~")) / ".cache"
    return Path(os.path.realpath(home / FOLDER))


def is_trusted(folder: Path) -> bool:
    """Whether nobody but this user and the administrator can have put anything into a folder (its path without links)."""
    if not hasattr(os, "getuid"):
        return True  # the system's own rights guard a user's profile
    try:
        for level in (folder, *folder.parents):
            about = os.lstat(level)
            if not stat.S_ISDIR(about.st_mode) or about.st_uid not in (os.getuid(), SYSTEM):
                return False
            passed_through = level != folder and about.st_mode & stat.S_ISVTX
            if about.st_mode & OTHERS and not passed_through and not _only_own_group(about):
                return False
    except OSError:
        return False
    return True


def _only_own_group(about: os.stat_result) -> bool:
    """Whether those who may write beside the owner are a group that has this user alone in it."""
    if about.st_mode & stat.S_IWOTH:
        return False
    import grp
    import pwd

    try:
        group, me = grp.getgrgid(about.st_gid), pwd.getpwuid(os.getuid())
    except KeyError:
        return False
    members = {*group.gr_mem, *(user.pw_name for user in pwd.getpwall() if user.pw_gid == about.st_gid)}
    return members == {me.pw_name}


def is_usable(folder: Path) -> bool:
    """Whether a folder is there or can be made, and can be trusted."""
    with suppress(OSError):  # where it cannot be made it may be there already
        for level in reversed([folder, *folder.parents]):
            if not level.exists():
                level.mkdir(mode=0o700, exist_ok=True)
    return is_trusted(folder)


def can_be_written(folder: Path) -> bool:
    """Whether a file can be put into this folder now."""
    try:
        with tempfile.NamedTemporaryFile(dir=folder) as file:
            file.write(b"\0")
            file.flush()
    except OSError:
        return False
    return True


def _content(path: Path) -> bytes | None:
    """All of a file that is this user's alone, as it was when it was opened; None for any other."""
    handle = os.open(path, os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_BINARY", 0) | getattr(os, "O_NONBLOCK", 0))
    with os.fdopen(handle, "rb") as file:
        about = os.fstat(file.fileno())
        if not stat.S_ISREG(about.st_mode) or about.st_size > LARGEST:
            return None
        if hasattr(os, "getuid") and (about.st_uid not in (os.getuid(), SYSTEM) or about.st_mode & OTHERS):
            return None
        return file.read()


def kept(path: Path) -> bytes | None:
    """The content of a kept file; None if there is none to be trusted. Everything in the file counts under its checksum."""
    try:
        whole = _content(path) if is_trusted(path.parent) else None
    except (OSError, ValueError):
        return None
    if whole is None or whole[DIGEST : DIGEST + 1] != b"\n":
        return None
    content = whole[DIGEST + 1 :]
    return content if hashlib.sha256(content).hexdigest().encode() == whole[:DIGEST] else None


def keep(path: Path, content: bytes) -> bool:
    """Keep a content, whole or not at all; whether that could be done."""
    if not is_usable(path.parent):
        return False
    temporary: str | None = None
    try:
        handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=f"{path.stem}-", suffix=".tmp")
        with os.fdopen(handle, "wb") as file:
            file.write(hashlib.sha256(content).hexdigest().encode() + b"\n" + content)
        os.replace(temporary, path)
    except OSError:
        if temporary is not None:
            with suppress(OSError):
                os.unlink(temporary)
        return False
    return True
