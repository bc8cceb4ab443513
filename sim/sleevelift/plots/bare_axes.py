"""Axes that carry curves and nothing else: no ticks and no grid of their own.

matplotlib's make four ticks each, which are styled and clipped whether they are shown or not: more than half of the time that axes
take. `ruled` draws frames and ticks of a page in a few strokes instead. The method of the axes that is overridden here is the one
that a projection of one's own overrides.
"""

from typing import Any

from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.axis import XAxis, YAxis


class _WithoutTicks(Artist):
    """What asks for ticks does not make them."""

    def set_clip_path(self, path: Any, transform: Any = None) -> None:
        Artist.set_clip_path(self, path, transform)  # not that of an axis, which clips its ticks

    def grid(self, *args: Any, **kw: Any) -> None:
        return

    def get_children(self) -> list[Any]:
        return []

    def set_tick_params(self, *args: Any, **kw: Any) -> None:
        return


class _Across(_WithoutTicks, XAxis):
    pass


class _Up(_WithoutTicks, YAxis):
    pass


class BareAxes(Axes):
    """Data places, limits and clipping."""

    def _init_axis(self) -> None:
        self.xaxis, self.yaxis = _Across(self, clear=False), _Up(self, clear=False)
        for side, axis in (("bottom", self.xaxis), ("top", self.xaxis), ("left", self.yaxis), ("right", self.yaxis)):
            self.spines[side].register_axis(axis)
