"""Two pieces of work at once: both are done, faults are told, no process and no word is left."""

import os
import time

import pytest
from runs import shipped
from sleevelift.plots import side_by_side as module
from sleevelift.plots import write_pictures
from sleevelift.plots.side_by_side import can_part, side_by_side

needs_two = pytest.mark.skipif(not can_part(), reason="no copies of a process here, or one core")


def no_child_left():
    with pytest.raises(ChildProcessError):
        os.waitpid(-1, os.WNOHANG)
    return True


def writing(path, text=None):
    return lambda: path.write_text(str(os.getpid()) if text is None else text, encoding="utf-8")


@needs_two
def test_the_second_is_done_by_a_copy_that_says_nothing(tmp_path, capfd):
    print("before ", end="")

    def second():
        print("not to be seen")
        writing(tmp_path / "b")()

    side_by_side(writing(tmp_path / "a"), second)
    assert (tmp_path / "a").read_text() == str(os.getpid()) != (tmp_path / "b").read_text()
    assert no_child_left() and capfd.readouterr() == ("before ", "")


def test_one_after_the_other_where_there_is_no_copy(tmp_path, monkeypatch):
    monkeypatch.setattr(module, "can_part", lambda: False)
    side_by_side(writing(tmp_path / "a"), writing(tmp_path / "b"))
    assert (tmp_path / "a").read_text() == (tmp_path / "b").read_text() == str(os.getpid())


@needs_two
def test_no_memory_for_a_copy_is_no_fault(tmp_path, monkeypatch):
    monkeypatch.setattr(os, "fork", lambda: (_ for _ in ()).throw(OSError("no memory")))
    side_by_side(writing(tmp_path / "a"), writing(tmp_path / "b"))
    assert (tmp_path / "b").read_text() == str(os.getpid())


@needs_two
@pytest.mark.parametrize("end", [lambda: (_ for _ in ()).throw(OSError("no ink")), lambda: os.kill(os.getpid(), 9)])
def test_what_fails_in_the_copy_is_done_again_here(tmp_path, end):
    here = os.getpid()

    def second():
        if os.getpid() != here:
            end()
        writing(tmp_path / "b")()

    side_by_side(lambda: None, second)
    assert (tmp_path / "b").read_text() == str(here) and no_child_left()


def test_a_fault_of_either_is_raised():
    def fault():
        raise OSError("no ink")

    for pair in ((fault, lambda: None), (lambda: None, fault)):
        with pytest.raises(OSError, match="no ink"):
            side_by_side(*pair)
    assert no_child_left()


@needs_two
def test_an_interrupt_ends_the_copy_too(tmp_path):
    def interrupt():
        raise KeyboardInterrupt

    def second():
        time.sleep(30.0)
        writing(tmp_path / "b")()

    began = time.monotonic()
    with pytest.raises(KeyboardInterrupt):
        side_by_side(interrupt, second)
    assert time.monotonic() - began < 10.0 and no_child_left() and not list(tmp_path.iterdir())


def test_pictures_are_the_same_at_once(tmp_path):
    files = write_pictures(shipped("dry_bench"), tmp_path / "at once", at_once=True)
    other = write_pictures(shipped("dry_bench"), tmp_path / "in order")
    assert [path.name for path in files] == [path.name for path in other]
    assert [path.read_bytes() for path in files] == [path.read_bytes() for path in other]
