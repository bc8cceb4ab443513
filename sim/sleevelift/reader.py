"""The reader's units: in which unit each kind of quantity is shown, metric or inch. The one place that decides it.

    reader.text("pressure", 3.1e6)          "31 bara"     "449.6 psia"
    reader.text("length", 1.27e-2, ".3g")   "12.7 mm"     "0.5 in"
    reader.text("gap", 1.27e-5, ".3g")      "12.7 um"     "0.5 mil"

A `Reader` is passed on, or read from the case that carries it (`Case.reader`): the `[case] units` of the file, or `--units` of
the command, which wins. JSON never asks it: there everything is SI, and sentences are metric. How many digits a number has is
decided in `shown`; numbers change their unit in `units`.

Kinds are those of `units.KINDS` and some of how a quantity is read: `gap` (a length of micrometres), `gauge pressure` (above
ambient), `small flow` (a leak), `large stress`, `gas flow` (m3/s of gas at ambient conditions).
"""

from collections.abc import Mapping
from typing import Any, Literal, NamedTuple

from sleevelift.units import NAMED_UNITS, unit

UnitsName = Literal["metric", "inch"]


class Step(NamedTuple):
    """A unit and the size from which it is taken."""

    least: float
    """SI"""
    unit: str


Steps = tuple[Step, ...]


def _one(name: str) -> Steps:
    """One unit for every size."""
    return (Step(0.0, name),)


def conversion(name: str, kind: str = "") -> tuple[float, float]:
    """(SI per unit, offset in SI) of a unit as it is shown: bara, psig (above ambient already) and temperatures too."""
    if kind in ("pressure", "gauge pressure") and name[:-1] in NAMED_UNITS:
        return NAMED_UNITS[name[:-1]].factor, 0.0
    found = unit(name)
    return found.factor, found.offset if kind == "temperature" else 0.0


class Reader(NamedTuple):
    """The units of one reader."""

    name: UnitsName
    fine: str
    """format of a length to a micrometre or a ten-thousandth of an inch"""
    coarse: str
    """format of a length to a tenth of a millimetre or a hundredth of an inch"""
    sentences: Mapping[str, Steps]
    """kind -> units, largest first: what a number in a sentence stands in"""
    alone: Mapping[str, Steps]
    """kind -> units of a number that stands alone, fitting its size; missing: as in a sentence"""
    columns: Mapping[str, str]
    """kind -> unit of a whole column or axis"""
    files: Mapping[str, str]
    """kind -> unit of a column in a CSV file; missing: SI"""

    def unit(self, kind: str, like: float = 0.0) -> str:
        """Unit in which a value of about this size (SI) is read; "" of a plain number."""
        steps = self.sentences.get(kind)
        if steps is None:
            return ""
        return next((step.unit for step in steps if abs(like) >= step.least), steps[-1].unit)

    def fitting(self, kind: str, like: float) -> str:
        """Unit of a number that stands alone, of about this size (SI); "" of a plain number."""
        steps = self.alone.get(kind, self.sentences.get(kind, (Step(0.0, ""),)))
        return next((step.unit for step in steps if abs(like) >= step.least), steps[-1].unit)

    def number(self, kind: str, si: float, like: float | None = None) -> float:
        """The value in that unit. like: a value that chooses the unit instead."""
        name = self.unit(kind, si if like is None else like)
        if not name:
            return si
        factor, offset = conversion(name, kind)
        return (si - offset) / factor

    def text(self, kind: str, si: float, form: str = ".4g", like: float | None = None) -> str:
        """Number and unit as one text; `form` is how the number is written."""
        name = self.unit(kind, si if like is None else like)
        return f"{self.number(kind, si, like):{form}} {name}".rstrip()

    def span(self, kind: str, low: float, high: float, form: str = ".4g", joint: str = " to ") -> str:
        """Two values with one unit: "29.5 to 32.5 bara"."""
        return f"{self.number(kind, low, high):{form}}{joint}{self.text(kind, high, form)}"

    def column(self, kind: str) -> str:
        """Unit of a whole column or axis; "" of a plain number."""
        return self.columns.get(kind, "")

    def in_column(self, kind: str, si: Any) -> Any:
        """A value or array in that unit."""
        return in_unit(self.column(kind), kind, si)

    def file_unit(self, kind: str, si_unit: str) -> str:
        """Unit of a column in a CSV file."""
        return self.files.get(kind, si_unit)

    def in_file(self, kind: str, si: Any) -> Any:
        """A value or array in that unit; exactly as it is where the file is in SI."""
        return in_unit(self.files[kind], kind, si) if kind in self.files else si


class Phrase(NamedTuple):
    """A sentence whose quantities wait for their reader: `{}` stands for each."""

    words: str
    quantities: tuple[tuple[str, float, str], ...] = ()
    """(kind, SI, format); a format that ends in ! leaves out the unit"""

    def said(self, reader: Reader) -> str:
        """The sentence in the reader's units."""
        return self.words.format(
            *(
                f"{reader.number(kind, si):{form[:-1]}}" if form.endswith("!") else reader.text(kind, si, form)
                for kind, si, form in self.quantities
            )
        )


def in_unit(name: str, kind: str, si: Any) -> Any:
    """A value or array in a unit."""
    if not name or name == "-":
        return si
    factor, offset = conversion(name, kind)
    return (si - offset) / factor if offset else si / factor


_BOTH: dict[str, Steps] = {
    "time": _one("ms"), "angle": _one("deg"), "current": _one("A"), "voltage": _one("V"), "resistance": _one("ohm"),
    "inductance": _one("H"), "frequency": _one("Hz"), "viscosity": _one("cP"),
}  # fmt: skip
"""Units that both readers use."""

_METRIC: dict[str, Steps] = _BOTH | {
    "length": _one("mm"), "gap": _one("um"), "long": _one("m"), "area": _one("mm2"), "volume": _one("cm3"), "mass": _one("g"),
    "force": _one("N"), "stiffness": _one("N/mm"), "line force": _one("N/mm"), "pressure": _one("bara"),
    "gauge pressure": _one("barg"), "pressure difference": _one("bar"), "stress": _one("MPa"), "large stress": _one("GPa"),
    "temperature": _one("K"), "temperature difference": _one("K"), "density": _one("kg/m3"), "speed": _one("m/s"),
    "flow": _one("kg/s"), "small flow": _one("mg/s"), "gas flow": _one("cm3/min"), "conductance": _one("m3/(s Pa)"),
    "heat transfer coefficient": _one("W/(m2 K)"), "damping": _one("N s/m"), "molar mass": _one("g/mol"),
    "specific gas constant": _one("J/(kg K)"),
    "energy": (Step(1e4, "kJ"), Step(1.0, "J"), Step(0.0, "mJ")), "mass flux": _one("kg/(s m2)"),
}  # fmt: skip

_INCH: dict[str, Steps] = _BOTH | {
    "length": _one("in"), "gap": _one("mil"), "long": _one("ft"), "area": _one("in2"), "volume": _one("in3"), "mass": _one("lb"),
    "force": _one("lbf"), "stiffness": _one("lbf/in"), "line force": _one("lbf/in"), "pressure": _one("psia"),
    "gauge pressure": _one("psig"), "pressure difference": _one("psi"), "stress": _one("ksi"), "large stress": _one("ksi"),
    "temperature": _one("degF"), "temperature difference": _one("degF"), "density": _one("lb/ft3"), "speed": _one("ft/s"),
    "flow": _one("lb/s"), "small flow": _one("lb/h"), "gas flow": _one("in3/min"), "conductance": _one("in3/(s psi)"),
    "heat transfer coefficient": _one("BTU/(h ft2 degF)"), "damping": _one("lbf s/in"), "molar mass": _one("lb/lbmol"),
    "specific gas constant": _one("ft lbf/(lb degR)"),
    "energy": (Step(1.0, "ft lbf"), Step(0.0, "in lbf")), "mass flux": _one("lb/(s ft2)"),
}  # fmt: skip

METRIC = Reader(
    "metric", ".3f", ".1f", _METRIC,
    {
        "length": (Step(0.5, "m"), Step(1e-4, "mm"), Step(0.0, "um")),
        "volume": (Step(1e-3, "litre"), Step(0.0, "cm3")),
        "mass": (Step(1.0, "kg"), Step(1e-4, "g"), Step(0.0, "mg")),
        "flow": (Step(0.1, "kg/s"), Step(1e-4, "g/s"), Step(0.0, "mg/s")),
    },
    {
        "time": "ms", "length": "mm", "area": "mm2", "volume": "m3", "mass": "g", "flow": "kg/s", "force": "N",
        "line force": "N/mm", "stiffness": "N/mm", "pressure": "bara", "gauge pressure": "barg", "pressure difference": "bar",
        "stress": "MPa", "temperature": "K", "speed": "m/s", "energy": "J", "frequency": "Hz",
    },
    {},
)  # fmt: skip
"""mm, bar, N, K."""
INCH = Reader(
    "inch", ".4f", ".2f", _INCH,
    {
        "length": (Step(2.54e-4, "in"), Step(0.0, "mil")),
        "flow": (Step(4.5e-5, "lb/s"), Step(0.0, "lb/h")),
    },
    {
        "time": "ms", "length": "in", "area": "in2", "volume": "in3", "mass": "lb", "flow": "lb/s", "force": "lbf",
        "line force": "lbf/in", "stiffness": "lbf/in", "pressure": "psia", "gauge pressure": "psig", "pressure difference": "psi",
        "stress": "ksi", "temperature": "degF", "speed": "ft/s", "energy": "ft lbf", "frequency": "Hz",
    },
    {
        "length": "in", "area": "in2", "volume": "in3", "mass": "lb", "flow": "lb/s", "force": "lbf", "line force": "lbf/in",
        "stiffness": "lbf/in", "pressure": "psia", "gauge pressure": "psig", "pressure difference": "psi", "stress": "psi",
        "temperature": "degF", "speed": "ft/s", "energy": "ft lbf", "density": "lb/ft3",
    },
)  # fmt: skip
"""in, psi, lbf, degF."""
READERS: Mapping[str, Reader] = {"metric": METRIC, "inch": INCH}
