"""The user's cache folder: where the program keeps what it can compute again (tables of gases, properties of liquids).

Folders, the first that can be used: XDG_CACHE_HOME or, on Windows, LOCALAPPDATA, or ~/.cache; then one of the user's
own in the system's temporary folder. Nothing in them is needed, and nothing in them is believed without being
checked.
"""

import os
import sys
import tempfile
from pathlib import Path

FOLDER = "sleevelift"


def cache_folders() -> list[Path]:
    """Where things may be kept, best first; each may be missing or closed to us."""
    if os.environ.get("XDG_CACHE_HOME"):
        home = Path(os.environ["XDG_CACHE_HOME"])
    elif sys.platform == "win32" and os.environ.get("LOCALAPPDATA"):
        home = Path(os.environ["LOCALAPPDATA"])
    else:
        home = Path(os.path.expanduser("~")) / ".cache"
    user = str(os.getuid()) if hasattr(os, "getuid") else "user"
    return [home / FOLDER, Path(tempfile.gettempdir()) / f"{FOLDER}-{user}"]


def is_ours(folder: Path) -> bool:
    """Whether a folder may be used: in the shared temporary folder only one of the user's own."""
    if folder.parent != Path(tempfile.gettempdir()) or not hasattr(os, "getuid"):
        return True
    try:
        return not folder.is_symlink() and folder.stat().st_uid == os.getuid()
    except OSError:
        return False
