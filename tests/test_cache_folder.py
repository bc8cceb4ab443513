"""The cache folder: what is kept is read back only from a place that nobody else could have written to, and only unaltered."""

import os
from pathlib import Path

import pytest
from sleevelift import cache_folder as cf

POSIX = pytest.mark.skipif(not hasattr(os, "getuid"), reason="user numbers are POSIX")
CONTENT = bytes(range(256)) * 5


@pytest.fixture
def file(tmp_path, monkeypatch):
    """A kept file two levels inside the cache folder."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "home"))
    path = cf.cache_folder() / "inner" / "thing"
    assert cf.keep(path, CONTENT) and cf.kept(path) == CONTENT
    return path


def test_every_byte_counts(file):
    """Whatever is altered, cut off or added, head and content alike, counts as absent."""
    whole = file.read_bytes()
    for place in range(0, len(whole), 7):
        file.write_bytes(whole[:place] + bytes([whole[place] ^ 1]) + whole[place + 1 :])
        assert cf.kept(file) is None
        file.write_bytes(whole[:place])
        assert cf.kept(file) is None
    file.write_bytes(whole + b"\0")
    assert cf.kept(file) is None
    file.write_bytes(whole)
    assert cf.kept(file) == CONTENT


@POSIX
@pytest.mark.parametrize("level", [0, 1, 2])
@pytest.mark.parametrize("mode", [0o777, 0o722, 0o702])
def test_a_level_that_others_write_to(file, level, mode):
    """The folder itself, the one around it, the one around that."""
    folder = [file.parent, *file.parents][level + 1 if level else 0]
    folder.chmod(mode)
    try:
        assert cf.kept(file) is None and not cf.keep(file, CONTENT) and not cf.is_usable(file.parent)
    finally:
        folder.chmod(0o700)
    assert cf.kept(file) == CONTENT


@POSIX
def test_a_folder_in_which_only_owners_rename_is_passed_through_but_holds_nothing(file):
    file.parents[2].chmod(0o1777)
    assert cf.kept(file) == CONTENT
    file.parent.chmod(0o1777)
    assert cf.kept(file) is None and not cf.keep(file, CONTENT)


@POSIX
def test_another_users_place(file, monkeypatch):
    """Seen by a user who owns none of it: nothing is read, nothing is written."""
    before = sorted(file.parent.iterdir())
    me = os.getuid()
    monkeypatch.setattr(os, "getuid", lambda: me + 12345)
    monkeypatch.setattr(cf, "SYSTEM", me + 54321)
    assert cf.kept(file) is None and not cf.keep(file.with_name("other"), CONTENT)
    assert sorted(file.parent.iterdir()) == before


@POSIX
@pytest.mark.skipif(hasattr(os, "getuid") and os.getuid() != 0, reason="only the administrator can give a file away")
@pytest.mark.parametrize("level", range(4))
def test_a_level_given_to_another(file, level):
    given = [file, *file.parents][level]
    os.chown(given, 4321, -1)
    assert cf.kept(file) is None
    if level:
        assert not cf.keep(file, CONTENT)


@POSIX
def test_a_file_that_others_write_to_or_a_link(file, tmp_path):
    file.chmod(0o666)
    assert cf.kept(file) is None
    file.chmod(0o600)
    elsewhere = tmp_path / "elsewhere"
    file.rename(elsewhere)
    file.symlink_to(elsewhere)
    assert cf.kept(file) is None
    file.unlink()
    os.mkfifo(file)
    assert cf.kept(file) is None, "and does not wait for a writer"


@POSIX
def test_a_link_on_the_way_leads_to_where_it_leads(tmp_path, monkeypatch):
    """A user may have the cache on another disk; a link into a place that others write to is such a place."""
    (tmp_path / "disk").mkdir(mode=0o700)
    (tmp_path / "link").symlink_to(tmp_path / "disk")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "link"))
    path = cf.cache_folder() / "thing"
    assert cf.keep(path, CONTENT) and cf.kept(path) == CONTENT
    assert path == tmp_path / "disk" / cf.FOLDER / "thing"
    (tmp_path / "disk").chmod(0o777)
    assert cf.kept(path) is None


def test_nothing_is_put_into_a_shared_folder_instead(tmp_path, monkeypatch):
    """A file stands where the cache should be: there is no second choice."""
    (tmp_path / "wall").write_text("")
    (tmp_path / "temporary").mkdir()
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "wall"))
    monkeypatch.setenv("TMPDIR", str(tmp_path / "temporary"))
    assert not cf.keep(cf.cache_folder() / "thing", CONTENT)
    assert not list((tmp_path / "temporary").iterdir())


def test_a_full_disk_keeps_nothing_and_leaves_nothing(file, monkeypatch):
    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", full)
    assert not cf.keep(file, b"newer")
    assert cf.kept(file) == CONTENT and [path.name for path in file.parent.iterdir()] == ["thing"]


def test_one_place_decides():
    """No other module of the package chooses a folder for what it keeps."""
    package = Path(cf.__file__).parent
    for path in package.rglob("*.py"):
        if path.name != "cache_folder.py":
            text = path.read_text()
            for word in ("XDG_CACHE_HOME", "NUMBA_CACHE_DIR", "LOCALAPPDATA", "gettempdir", "expanduser"):
                assert word not in text, f"{path.relative_to(package)}: {word}"
