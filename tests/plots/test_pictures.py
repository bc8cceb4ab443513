"""Every picture of every shipped case: written, whole, of the promised size, nothing cut off, nothing overlapping."""

from unittest.mock import patch

import numpy as np
import pytest
from hostile import hostile_case
from runs import CASES, shipped
from sleevelift import simulate
from sleevelift.case.read import case_from_text
from sleevelift.plots import PICTURES, write_pictures
from sleevelift.plots.style import Page
from sleevelift.plots.transient import panels

QUICK = ("hot_start", "dry_bench", "nose_trap")
ALL = sorted(path.stem for path in CASES.glob("*.toml"))
SIZE = (1240, 1754)
"""Pixels: A4 at 150 per inch."""
SIZE_ACROSS = (1754, 1240)


def drawn(result, folder):
    """(files, pages) of a result's pictures."""
    pages = []
    save = Page.save

    def keep(page, path):
        pages.append(page)
        return save(page, path)

    with patch.object(Page, "save", keep):
        files = write_pictures(result, folder)
    return files, pages


def check_files(files, folder):
    """Valid PNG files, by the decoder of an independent library (Pillow), and nothing left beside them."""
    from PIL import Image

    chart = [name for name in ("sequence.png",) if (folder / name).exists()]
    expected = [*PICTURES[:-1], *chart, PICTURES[-1], "section.svg"]
    assert [f.name for f in files] == expected
    assert sorted(p.name for p in folder.iterdir()) == sorted(expected)
    for file in files[:-1]:
        with Image.open(file) as image:
            image.load()
            assert image.format == "PNG" and image.size == (SIZE if file.name != "section.png" else SIZE_ACROSS)
            pixels = np.asarray(image.convert("L"))
        assert (pixels < 128).mean() > 0.002, "a page has ink"
        edge = np.concatenate([pixels[:12].ravel(), pixels[-12:].ravel(), pixels[:, :12].ravel(), pixels[:, -12:].ravel()])
        assert edge.min() > 250, f"{file.name}: something reaches the edge of the page"


def boxes_of(page):
    """(text, box in pixels) of every visible text on the page but the tick labels."""
    import matplotlib.text
    from matplotlib.transforms import Bbox

    renderer = page.canvas.get_renderer()
    ticks = {id(label) for ax in page.figure.axes if ax.axison for axis in (ax.xaxis, ax.yaxis) for label in axis.get_ticklabels()}
    found = []
    for item in page.figure.findobj(matplotlib.text.Text):
        if id(item) in ticks or not item.get_visible() or not item.get_text().strip():
            continue
        found.append((item.get_text(), item.get_window_extent(renderer)))
    return found + [(word.text, Bbox.from_extents(*word.extent)) for word in page.words]


def check_layout(pages):
    """Texts lie on the page and not on one another."""
    for page in pages:
        boxes = boxes_of(page)
        for text, box in boxes:
            assert box.x0 >= 0 and box.y0 >= 0 and box.x1 <= SIZE[0] and box.y1 <= SIZE[1], f"cut off: {text!r}"
        for i, (text, box) in enumerate(boxes):
            for other, second in boxes[i + 1 :]:
                wide = min(box.x1, second.x1) - max(box.x0, second.x0)
                high = min(box.y1, second.y1) - max(box.y0, second.y0)
                inside = wide > 2.0 and high > 3.0
                assert not inside or _may_touch(text, other), f"{text!r} lies on {other!r}"


def _may_touch(a, b):
    """Values written beside curves may come close where the curves do."""
    return a[0] in "+-" and b[0] in "+-"


@pytest.mark.parametrize("name", [pytest.param(n, marks=() if n in QUICK else pytest.mark.slow) for n in ALL])
def test_pictures_of_a_shipped_case(name, tmp_path):
    files, pages = drawn(shipped(name), tmp_path)
    check_files(files, tmp_path)
    check_layout(pages)
    texts = [text for text, _ in boxes_of(pages[0])]
    assert any("INVENTED" in text for text in texts)
    assert any("no permission to test" in text for text in texts)


def test_a_dry_case_has_no_empty_panels():
    titles = [panel.title for panel in panels(shipped("dry_bench"))]
    assert titles == ["Command and solenoid valve", "Actuation gas", "Lift"]
    assert len(panels(shipped("hot_start"))) == 6 and len(panels(shipped("cold_flow"))) == 5


def test_text_of_a_case_is_drawn_as_it_is(tmp_path):
    files, pages = drawn(simulate(hostile_case()), tmp_path)
    check_files(files, tmp_path)
    check_layout(pages)
    texts = " ".join(text for text, _ in boxes_of(pages[0]))
    assert r"$\frac{1}{0}$" in texts and "\x07" not in texts and "\u202e" not in texts


def test_a_case_without_off_command(tmp_path):
    text = (CASES / "dry_bench.toml").read_text(encoding="utf-8")
    head, _, tail = text.partition("off = [")
    case = case_from_text(head + "off = []" + tail.partition("]")[2], "no_off")
    result = simulate(case)
    assert result.outcome == "opened-no-off-command"
    files, pages = drawn(result, tmp_path)
    check_files(files, tmp_path)
    assert any("no off command" in text for text, _ in boxes_of(pages[1]))


def test_a_run_that_could_not_start(tmp_path):
    """No traces at all: the pages say so, and the curves against lift are still drawn."""
    result = shipped("hot_start")
    nothing = {name: None for name in result.measures}
    failure = "The run cannot start: gas in the tube is outside the range of its table."
    reasons = {name: "the run could not start" for name in nothing}
    broken = result._replace(traces={}, timeline=[], measures=nothing, reasons=reasons, outcome="left-gas-range", failure=failure)
    files, pages = drawn(broken, tmp_path)
    check_files(files, tmp_path)
    check_layout(pages)
    assert any("cannot start" in text for text, _ in boxes_of(pages[0]))


def test_a_run_that_broke_off_in_the_middle(tmp_path):
    """Traces end while the sleeve rises: what there is is drawn."""
    result = shipped("hot_start")
    t = result.traces["time"]
    end = int(np.searchsorted(t, 0.158))
    kept = {name: values[:end] for name, values in result.traces.items()}
    timeline = [e for e in result.timeline if e.instant <= t[end - 1]]
    gone = {"travel_time", "opening_time", "closing_time", "light_off", "full_oxidizer", "full_fuel", "last_fuel"}
    measures = {name: None if name in gone else value for name, value in result.measures.items()}
    broken = result._replace(traces=kept, timeline=timeline, measures=measures, outcome="left-gas-range")
    files, pages = drawn(broken, tmp_path)
    check_files(files, tmp_path)
    check_layout(pages)
