"""Files of a result: whole or not at all, JSON that any reader takes, names that never lead elsewhere."""

import errno
import json
import math
import os

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from sleevelift.report import files


@given(st.text(max_size=200))
def test_a_file_name_is_one_plain_visible_part(text):
    name = files.safe_name(text)
    assert name and len(name) <= files.LONGEST_NAME + len("case_")
    assert all(letter.isascii() and (letter.isalnum() or letter in "._-") for letter in name)
    assert not name.startswith(".") and os.path.basename(name) == name


HOSTILE = ["..", "../../etc/passwd", "a/b", "\\\\host\\share", "", ".", "\x00", "CON", "nul.txt", "\u00e9"]


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_names_stay_inside_the_folder(tmp_path, text):
    inside = (tmp_path / files.safe_name(text)).resolve()
    assert inside.parent == tmp_path.resolve()
    assert files.safe_name(text).split(".")[0].lower() not in files.RESERVED


def test_cases_of_one_name_get_folders_of_their_own():
    assert files.distinct_names(["a", "A", "a", "b", "a-2"]) == ["a", "A-2", "a-3", "b", "a-2-2"]


def test_json_has_no_nan_and_no_infinity():
    numbers = [math.nan, math.inf, 1.5, np.float64("nan"), np.int64(3), np.arange(2.0)]
    text = files.json_text({"a": numbers, "b": None, "c": (True, "x")})
    back = json.loads(text, parse_constant=pytest.fail)
    assert back == {"a": [None, None, 1.5, None, 3, [0.0, 1.0]], "b": None, "c": [True, "x"]}


def test_traces_read_back_digit_for_digit():
    rng = np.random.default_rng(1)
    traces = {"time": np.sort(rng.random(50)), "lift": rng.normal(size=50) * 1e-7, "mode": np.arange(50)}
    traces["lift"][3] = math.nan
    text = files.traces_csv(traces, {"time": "s", "lift": "m", "mode": ""})
    lines = text.splitlines()
    assert lines[0] == "time [s],lift [m],mode [-]"
    back = np.array([[float(field) if field else math.nan for field in line.split(",")] for line in lines[1:]])
    for column, name in enumerate(traces):
        np.testing.assert_array_equal(back[:, column], traces[name])
    assert files.traces_csv({}, {}) == "time [s]\n"


@pytest.fixture
def full_disk(monkeypatch):
    """Every flush to disk fails as on a full one."""

    def no_space(descriptor):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(files.os, "fsync", no_space)


def test_a_full_disk_leaves_the_old_file(tmp_path, full_disk):
    path = tmp_path / "x.txt"
    path.write_text("old")
    with pytest.raises(OSError, match="space"):
        files.write_text_atomically(path, "new")
    assert path.read_text() == "old"
    assert os.listdir(tmp_path) == ["x.txt"]


def test_a_file_is_replaced_or_spared(tmp_path):
    path = tmp_path / "x.txt"
    files.write_text_atomically(path, "first")
    files.write_text_atomically(path, "second")
    assert path.read_text() == "second"
    with pytest.raises(FileExistsError):
        files.write_text_atomically(path, "third", overwrite=False)
    assert path.read_text() == "second"
    assert os.listdir(tmp_path) == ["x.txt"]


def test_without_hard_links_an_existing_file_is_still_spared(tmp_path, monkeypatch):
    def no_links(source, target):
        raise OSError(errno.EPERM, "no hard links here")

    monkeypatch.setattr(files.os, "link", no_links)
    path = tmp_path / "x.txt"
    files.write_text_atomically(path, "first", overwrite=False)
    with pytest.raises(FileExistsError):
        files.write_text_atomically(path, "second", overwrite=False)
    assert path.read_text() == "first"


@pytest.mark.parametrize("fault", [KeyboardInterrupt, OSError, ValueError])
def test_a_stage_that_fails_leaves_what_was_there(tmp_path, fault):
    (tmp_path / "a").write_text("old")
    with pytest.raises(fault), files.staged(tmp_path) as stage:
        (stage / "a").write_text("new")
        (stage / "b").write_text("new")
        raise fault
    assert (tmp_path / "a").read_text() == "old"
    assert os.listdir(tmp_path) == ["a"]


def test_a_stage_that_ends_well_moves_everything(tmp_path):
    (tmp_path / "a").write_text("old")
    with files.staged(tmp_path) as stage:
        (stage / "a").write_text("new")
        (stage / "b").write_text("more")
    assert (tmp_path / "a").read_text() == "new"
    assert sorted(os.listdir(tmp_path)) == ["a", "b"]


def test_folders_that_were_made_and_stay_empty_are_taken_away(tmp_path):
    deep = tmp_path / "a" / "b" / "c"
    made = files.made_folder(deep)
    assert made == [deep, deep.parent, deep.parent.parent]
    files.remove_if_empty(made)
    assert os.listdir(tmp_path) == []
    made = files.made_folder(deep)
    (deep.parent / "kept").write_text("x")
    files.remove_if_empty(made)
    assert os.listdir(deep.parent) == ["kept"]


def test_a_folder_under_a_file_cannot_be_made(tmp_path):
    (tmp_path / "file").write_text("x")
    with pytest.raises(OSError):
        files.made_folder(tmp_path / "file" / "out")
