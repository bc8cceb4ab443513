"""Machine code kept on disk and called without the compiler, which takes longer to load than most runs take.

    kernels-<key>/<name>-<hash of the arguments' types>.code  =  checksum, one line of JSON, then an object file

The object file is the machine code of one kernel, made whole (`compiler.machine_code`) for arguments of C types: two places
that the compiler's own calls have and that stay unused, a pointer for the results, then a pointer and the sizes of each
array, a pointer for each record, a number for each number (an integer for a bool). It gives back 0. It is linked by the same
library that made it (llvmlite), into one piece of memory, against the C library's functions that the process has. A file that
needs anything else, or is in any way not what was written here, is not used: the kernel is compiled again. Who could have
written it is asked by `sleevelift.cache_folder`.
"""

import contextlib
import ctypes
import hashlib
import json
import sys
import threading
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from sleevelift.cache_folder import keep, kept

POSSIBLE = sys.platform.startswith("linux") and sys.maxsize > 2**32 and sys.byteorder == "little"
"""Whether this machine's object files are those that are looked into here (64-bit ELF)."""

NEEDED = frozenset(
    "acos asin atan atan2 cos cosh exp exp2 expm1 fabs floor ceil fma fmod hypot log log10 log1p log2 memcpy memmove memset pow "
    "sin sincos sinh sqrt tan tanh".split()
)
"""Functions of the C library that machine code may call."""


@cache
def _binding() -> Any:
    """llvmlite's binding, ready to link for this machine."""
    from llvmlite import binding

    with contextlib.suppress(RuntimeError):  # where the library does so by itself
        binding.initialize()
    binding.initialize_native_target()
    binding.initialize_native_asmprinter()
    with contextlib.suppress(RuntimeError):
        binding.load_library_permanently("libm.so.6")
    return binding


@cache
def processor() -> str:
    """Name and features of this machine's processor: machine code of another may not run here."""
    binding = _binding()
    return f"{binding.get_host_cpu_name()} {binding.get_host_cpu_features().flatten()}"


_first_byte = ctypes.c_char.from_buffer


def _address(argument: Any) -> int:
    """Where the numbers of an array or a record begin, by the quickest way there is."""
    if type(argument) is np.void:
        whole: Any = argument.base
        if type(whole) is np.ndarray and whole.size == 1 and whole.dtype is argument.dtype:
            return int(whole.ctypes.data)
        return int(argument.__array_interface__["data"][0])
    if argument.dtype.names is None:
        with contextlib.suppress(TypeError, ValueError):  # read-only, or empty
            return ctypes.addressof(_first_byte(argument))
    return int(argument.ctypes.data)


class _Call(threading.local):
    """What this thread called a code with last: its arguments, and what they are to the machine. The arguments stay alive here."""

    arguments: list[Any]
    given: list[Any]
    result: Any


RESULTS: dict[str, Any] = {"f": float, "i": int, "b": bool}
"""What a kernel may give back, by the letter it has in a kept file."""
PLAIN = ("f", "i", "b")
"""Kinds of arguments that are one number: float, integer, bool."""
OTHER_KIND = object()
"""Given back instead of a result for arguments that a code is not for."""


class Code:
    """The machine code of one kernel, ready to be called."""

    def __init__(self, code: bytes, name: str, letters: str, single: bool, kinds: tuple[Any, ...]):
        binding = _binding()
        machine = binding.Target.from_default_triple().create_target_machine(codemodel="jitdefault", jit=True)
        # the binding's own choice of memory: its other manager ends the process where the sections' alignments do not suit it
        engine = binding.create_mcjit_compiler(binding.parse_assembly(""), machine)
        engine.add_object_file(binding.ObjectFileRef.from_data(code))
        engine.finalize_object()
        self._engine = engine  # holds the code
        parameters: list[Any] = [ctypes.c_void_p] * 3
        places = []
        for kind in kinds:
            places.append(len(parameters))
            if kind == "f":
                parameters.append(ctypes.c_double)
            elif kind in ("i", "b"):
                parameters.append(ctypes.c_int64)
            else:
                parameters += [ctypes.c_void_p] + [ctypes.c_int64] * (kind[1] or 0)
        address = engine.get_function_address(name)
        if not address:
            raise ValueError(f"the code has no function {name}")
        self._function = ctypes.CFUNCTYPE(ctypes.c_int32, *parameters)(address)
        self._kinds = kinds
        self._keys = tuple(kind if kind in PLAIN else (_named(kind[0]), kind[1]) for kind in kinds)
        self._places = places
        self._size = len(parameters)
        self._single = single
        self._made = [RESULTS[letter] for letter in letters]
        self._call = _Call()

    def _first_call(self) -> None:
        """Make this thread's list of what is given to the machine."""
        call = self._call
        call.arguments = [_Call] * len(self._kinds)
        call.result = (ctypes.c_double * (len(self._made) + 2))()
        start = ctypes.addressof(call.result)
        # the results, and behind them the two places that stay unused
        call.given = [start + 8 * len(self._made), start + 8 * (len(self._made) + 1), start] + [0] * (self._size - 3)

    def __call__(self, arguments: tuple[Any, ...]) -> Any:
        """Call with arguments of the kinds this code is for, or give back OTHER_KIND; the interpreter lock is free meanwhile.

        Only what is another object than in this thread's last call is looked at.
        """
        if len(arguments) != len(self._kinds):
            return OTHER_KIND
        call = self._call
        if not hasattr(call, "given"):
            self._first_call()
        given, before = call.given, call.arguments
        for number, argument in enumerate(arguments):
            if argument is before[number]:
                continue
            if _key_of(argument) != self._keys[number]:
                return OTHER_KIND
            kind, place = self._kinds[number], self._places[number]
            if kind == "f":
                given[place] = argument
            elif kind == "i" or kind == "b":
                given[place] = int(argument)
            else:
                given[place] = _address(argument)
                if kind[1]:
                    given[place + 1 : place + 1 + kind[1]] = argument.shape
            before[number] = argument
        if self._function(*given) != 0:
            raise RuntimeError("a kernel reported an exception, which none may raise")
        values = tuple(make(value) for make, value in zip(self._made, call.result))
        if not values:
            return None
        return values[0] if self._single else values


_names: dict[int, tuple[Any, str]] = {}
"""dtype by its address -> (itself, so that it stays, its description)."""


def _named(dtype: Any) -> str:
    """Description of a dtype, with places and sizes."""
    known = _names.get(id(dtype))
    if known is None:
        if len(_names) > 1000:
            _names.clear()
        known = _names[id(dtype)] = (dtype, f"{dtype!r} {dtype.itemsize}")
    return known[1]


def _key_of(argument: Any) -> Any:
    """Kind of an argument, with the dtype's description for the dtype; None if there is no such kind."""
    kind = type(argument)
    if kind is np.ndarray:
        flags = argument.flags
        if not (flags.c_contiguous and flags.aligned) or argument.dtype.hasobject:
            return None
        return _named(argument.dtype), argument.ndim
    if kind is float or kind is np.float64:
        return "f"
    if kind is int or kind is np.int64:
        return "i"
    if kind is bool or kind is np.bool_:
        return "b"
    if kind is np.void:
        return _named(argument.dtype), None
    return None


def kinds_of(arguments: tuple[Any, ...]) -> tuple[tuple[Any, ...], tuple[Any, ...]] | None:
    """(kinds of arguments as `compiler.machine_code` has them, the same as a key); None if one is of no such kind."""
    key = tuple(_key_of(argument) for argument in arguments)
    if None in key:
        return None
    kinds = tuple(k if k in PLAIN else (argument.dtype, k[1]) for k, argument in zip(key, arguments))
    return kinds, key


def _file(folder: Path, name: str, key: tuple[Any, ...]) -> Path:
    """Where a kernel's code for these arguments is kept."""
    return folder / f"{name}-{hashlib.sha256(f'{key} {processor()}'.encode()).hexdigest()[:16]}.code"


def read(folder: Path, name: str, kinds: tuple[Any, ...], key: tuple[Any, ...]) -> Code | None:
    """The kept code of a kernel, or None if there is none to be trusted."""
    content = kept(_file(folder, name, key))
    if content is None:
        return None
    try:
        line, code = content.split(b"\n", 1)
        about = json.loads(line)
        needed, letters = about["needed"], about["letters"]
        if not NEEDED.issuperset(needed) or undefined_symbols(code) != set(needed) or not set(letters) <= set(RESULTS):
            return None
        if not all(_binding().address_of_symbol(function) for function in needed):
            return None
        return Code(code, about["function"], letters, about["single"], kinds)
    except (ValueError, KeyError, IndexError, TypeError, AttributeError, RuntimeError, RecursionError):
        return None


def write(folder: Path, name: str, key: tuple[Any, ...], code: bytes, function: str, letters: str, single: bool) -> bool:
    """Keep the code of a kernel; whether that could be done and another process can use it."""
    needed = sorted(undefined_symbols(code))
    if not NEEDED.issuperset(needed):
        return False
    about = {"function": function, "letters": letters, "single": single, "needed": needed}
    return keep(_file(folder, name, key), json.dumps(about).encode() + b"\n" + code)


def undefined_symbols(code: bytes) -> set[str]:
    """Names that an object file (64-bit ELF) leaves to be found; {"?"} for any other file."""
    if code[:6] != b"\x7fELF\x02\x01":
        return {"?"}

    def number(start: int, size: int) -> int:
        return int.from_bytes(code[start : start + size], "little")

    sections, size, count = number(0x28, 8), number(0x3A, 2), number(0x3C, 2)
    found: set[str] = set()
    for s in range(count):
        at = sections + s * size
        if number(at + 4, 4) != 2:  # the symbol table
            continue
        strings = number(sections + number(at + 40, 4) * size + 24, 8)
        start, length = number(at + 24, 8), number(at + 32, 8)
        for symbol in range(start + 24, start + length, 24):
            if number(symbol + 6, 2) == 0:
                first = strings + number(symbol, 4)
                found.add(code[first : code.index(b"\0", first)].decode())
    return found - {"", "_GLOBAL_OFFSET_TABLE_"}
