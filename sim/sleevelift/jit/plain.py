"""Kernels run as the plain functions they are: fields of records are attributes, dividing by 0 is no error, as in compiled code."""

import ctypes
from collections.abc import Callable
from typing import Any

import numpy as np


class Fields(np.record):  # type: ignore[misc]
    """A record whose fields come before what numpy itself calls so (`T`)."""

    def __getattribute__(self, name: str) -> Any:
        fields = np.record.__getattribute__(self, "dtype").fields
        if name not in fields:
            return np.record.__getattribute__(self, name)
        value = np.record.__getattribute__(self, "getfield")(*fields[name][:2])
        return value.view(dtype=(Fields, value.dtype)) if value.dtype.names else value


def readable(argument: Any) -> Any:
    """The argument of a kernel as a plain function takes it: arrays of records and records with their fields as attributes, in the
    same memory."""
    if isinstance(argument, tuple):
        return tuple(map(readable, argument))
    kind = getattr(argument, "dtype", None)
    if kind is None or kind.names is None or isinstance(argument, Fields):
        return argument
    if isinstance(argument, np.ndarray):
        return argument.view(dtype=(Fields, kind))
    # the caller holds the record, and with it its memory, for as long as the call takes; its own buffer would be read-only
    place = (ctypes.c_char * kind.itemsize).from_address(argument.__array_interface__["data"][0])
    return np.ndarray((1,), dtype=(Fields, kind), buffer=place)[0]


def called(function: Callable[..., Any], arguments: tuple[Any, ...]) -> Any:
    """What a plain function gives for the arguments of a kernel."""
    with np.errstate(all="ignore"):
        return function(*map(readable, arguments))
