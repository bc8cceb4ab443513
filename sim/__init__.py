"""sleevelift: transient simulator of a gas-lifted sleeve valve in a bipropellant injector.

    from sim import load_case, simulate
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
    from sim.batch import Batch, simulate_many
    from sim.case.read import CaseError, case_from_text, load_case, with_values
    from sim.run import Result, simulate

_HOMES = {
    "CaseError": "sim.case.read",
    "case_from_text": "sim.case.read",
    "load_case": "sim.case.read",
    "with_values": "sim.case.read",
    "Batch": "sim.batch",
    "Result": "sim.run",
    "simulate": "sim.run",
    "simulate_many": "sim.batch",
}


def __getattr__(name: str) -> Any:
    if name in _HOMES:
        from importlib import import_module

        return getattr(import_module(_HOMES[name]), name)
    raise AttributeError(f"module 'sim' has no attribute {name!r}")
