"""sleevelift: transient simulator of a gas-lifted sleeve valve in a bipropellant injector.

    from sleevelift import load_case, simulate
    result = simulate(load_case("cases/hot_start.toml"))
    result.measures["opening_time"]      s
    result.traces["lift"]                m, over result.traces["time"]

Names are loaded when first used, so that importing the package costs nothing.
"""

from typing import TYPE_CHECKING, Any

__version__ = "0.1.0"
__all__ = [
    "Batch",
    "CaseError",
    "Result",
    "__version__",
    "case_from_text",
    "load_case",
    "simulate",
    "simulate_many",
    "with_values",
]

if TYPE_CHECKING:
    from sleevelift.batch import Batch, simulate_many
    from sleevelift.case.read import CaseError, case_from_text, load_case, with_values
    from sleevelift.result import Result
    from sleevelift.run import simulate

_HOMES = {
    "CaseError": "sleevelift.case.read",
    "case_from_text": "sleevelift.case.read",
    "load_case": "sleevelift.case.read",
    "with_values": "sleevelift.case.read",
    "Batch": "sleevelift.batch",
    "Result": "sleevelift.result",
    "simulate": "sleevelift.run",
    "simulate_many": "sleevelift.batch",
}


def __getattr__(name: str) -> Any:
    if name in _HOMES:
        from importlib import import_module

        return getattr(import_module(_HOMES[name]), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
