"""The one compile decorator and its cache folder; the only file that mentions numba.

The cache folder is keyed by a hash of every kernel source and the versions of numba, numpy and Python, because numba's
own key is the hash of the defining file alone: after an edit of a callee in another file the caller would go on with its
old machine code.
"""

import numba as _numba

kernel = _numba.njit(nogil=True, cache=True, error_model="numpy")
"""Compile a function of plain numbers and arrays; released from the interpreter lock, cached on disk."""

generic = _numba.njit(nogil=True, error_model="numpy")
"""A function that takes compiled functions as arguments. It has no cache of its own: its machine code is stored with the
cached kernel that names the concrete functions and calls it."""
