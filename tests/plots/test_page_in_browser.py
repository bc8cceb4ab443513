"""The page in a browser: nothing overlaps or sticks out on a telephone, and paper shows every picture whole and wide.

Looked at in Chromium without a window; left out where there is none.
"""

import json
import re
import shutil
import subprocess
import zlib
from html import escape

import pytest
from runs import shipped
from sleevelift.plots import PICTURES, write_pictures
from sleevelift.report.page import write_page

BROWSERS = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome", "headless_shell")
OPTIONS = (
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
)  # fmt: skip
ENOUGH = 180
POINT = 1 / 72 * 25.4
"""mm."""
MEASURE = """
<body><iframe id="page" srcdoc="{page}" style="width:{width}px;height:900px;border:0"></iframe><pre id="found"></pre><script>
document.getElementById("page").onload = function () {{
  const inside = this.contentDocument, width = inside.documentElement.clientWidth, boxes = [];
  const texts = inside.createTreeWalker(inside.body, NodeFilter.SHOW_TEXT);
  while (texts.nextNode()) {{
    if (!texts.currentNode.data.trim()) continue;
    const range = inside.createRange();
    range.selectNodeContents(texts.currentNode);
    for (const box of range.getClientRects()) boxes.push([box.left, box.top, box.right, box.bottom, texts.currentNode.data]);
  }}
  for (const image of inside.images) {{
    const box = image.getBoundingClientRect();
    boxes.push([box.left, box.top, box.right, box.bottom, image.alt]);
  }}
  const over = [];
  boxes.sort((a, b) => a[1] - b[1]);
  for (let i = 0; i < boxes.length; i++)
    for (let k = i + 1; k < boxes.length && boxes[k][1] < boxes[i][3] - 2; k++)
      if (Math.min(boxes[i][2], boxes[k][2]) - Math.max(boxes[i][0], boxes[k][0]) > 1
          && Math.min(boxes[i][3], boxes[k][3]) - Math.max(boxes[i][1], boxes[k][1]) > 2)
        over.push([boxes[i][4].slice(0, 40), boxes[k][4].slice(0, 40)]);
  const out = boxes.filter(box => box[2] > width + 1 || box[0] < -1).map(box => box[4].slice(0, 40));
  const images = Array.from(inside.images).map(image => [image.naturalWidth, image.getBoundingClientRect().width]);
  document.getElementById("found").textContent = "FOUND" + JSON.stringify(
    {{width, scroll: inside.documentElement.scrollWidth, texts: boxes.length, over, out, images}}) + "END";
}};
</script></body>
"""
"""A page in a frame, and what is measured there: rectangles of every line of text and every picture."""


@pytest.fixture(scope="module")
def browser():
    found = next((path for name in BROWSERS if (path := shutil.which(name))), None)
    if found is None:
        pytest.skip("no Chromium here")
    return found


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """The page of the hot case, alone: its pictures are gone."""
    place = tmp_path_factory.mktemp("page")
    result = shipped("late_igniter")
    write_pictures(result, place)
    write_page(result, place)
    for name in PICTURES:
        (place / name).unlink()
    return place


def looked_at(browser, place, address, *options):
    """What the browser prints."""
    command = [browser, *OPTIONS, f"--user-data-dir={place / 'profile'}", *options, address.as_uri()]
    done = subprocess.run(command, capture_output=True, text=True, timeout=ENOUGH, check=False)
    assert done.returncode == 0, done.stderr[-2000:]
    return done.stdout


@pytest.mark.parametrize("width", [390, 768, 1200])
def test_nothing_overlaps_and_nothing_sticks_out(browser, folder, tmp_path, width):
    frame = tmp_path / "frame.html"
    page = (folder / "report.html").read_text(encoding="utf-8")
    frame.write_text(MEASURE.format(page=escape(page), width=width), encoding="utf-8")
    told = looked_at(browser, tmp_path, frame, "--dump-dom", "--virtual-time-budget=10000", "--window-size=1400,1000")
    found = json.loads(re.search(r"FOUND(\{.*\})END</pre>", told, re.DOTALL)[1].replace("&gt;", ">").replace("&amp;", "&"))
    assert found["texts"] > 500 and width - 20 <= found["width"] <= width
    assert found["scroll"] <= found["width"] and found["out"] == []
    assert found["over"] == []
    assert len(found["images"]) == len(PICTURES) and all(natural > 1000 for natural, _ in found["images"])
    if width == 390:
        assert all(shown > 0.85 * found["width"] for _, shown in found["images"]), "as wide as the screen"


@pytest.mark.parametrize("paper, size", [("A4", (210, 297)), ("letter", (215.9, 279.4))])
def test_paper_shows_every_picture_whole_and_wide(browser, folder, tmp_path, paper, size):
    page = (folder / "report.html").read_text(encoding="utf-8").replace("@page{", f"@page{{size:{paper};")
    (tmp_path / "page.html").write_text(page, encoding="utf-8")
    looked_at(browser, tmp_path, tmp_path / "page.html", f"--print-to-pdf={tmp_path / 'page.pdf'}", "--no-pdf-header-footer")
    sheets = pictures_of((tmp_path / "page.pdf").read_bytes())
    assert {(round(w), round(h)) for w, h, _ in sheets} == {(round(size[0]), round(size[1]))}
    drawn = [place for _, _, places in sheets for place in places]
    assert len(drawn) == len(PICTURES) and max(len(places) for _, _, places in sheets) == 1, "one to a page, none torn in two"
    for left, foot, width, height in drawn:
        shape = height / width  # A4 upright, the half-section across
        assert width > 0.8 * size[0]
        assert shape == pytest.approx(297 / 210, rel=0.01) or shape == pytest.approx(210 / 297, rel=0.01)
        assert left > 5 and foot > 5 and left + width < size[0] - 5 and foot + height < size[1] - 5
    assert len(sheets) < 25


def pictures_of(content):
    """Each page of a PDF of this browser: (width, height, [(left, foot, width, height) of each large picture]), mm."""
    streams, pages = {}, []
    for number, body in re.findall(rb"^(\d+) 0 obj\n(.*?)^endobj", content, re.DOTALL | re.MULTILINE):
        head, _, data = body.partition(b"stream\n")
        if b"/FlateDecode" in head and b"/Image" not in head:
            streams[number] = zlib.decompressobj().decompress(data).decode("latin-1")
        elif re.search(rb"/Type /Page\b(?!s)", head):
            pages.append(head)
    out = []
    for page in pages:
        box = [float(x) for x in re.search(rb"/MediaBox \[([^\]]*)\]", page)[1].split()]
        text = streams[re.search(rb"/Contents (\d+) 0 R", page)[1]]
        out.append((box[2] * POINT, box[3] * POINT, placed(text)))
    return out


def placed(text):
    """Where large pictures stand in a page's drawing commands: the matrices up to each `Do`, multiplied."""
    found, kept, now = [], [], (1.0, 0.0, 0.0, 1.0, 0.0, 0.0)
    for line in re.finditer(r"(?P<q>\bq\b)|(?P<Q>\bQ\b)|(?P<m>(?:[-\d.]+\s+){6})cm\b|/(?P<x>X\d+)\s+Do\b", text):
        if line["q"]:
            kept.append(now)
        elif line["Q"]:
            now = kept.pop()
        elif line["m"]:
            a, b, c, d, e, f = map(float, line["m"].split())
            A, B, C, D, E, F = now
            now = (a * A + b * C, a * B + b * D, c * A + d * C, c * B + d * D, e * A + f * C + E, e * B + f * D + F)
        elif line["x"]:
            width, height = abs(now[0]) * POINT, abs(now[3]) * POINT
            if width > 20 and height > 20:
                found.append((now[4] * POINT, min(now[5], now[5] + now[3]) * POINT, width, height))
    return found
