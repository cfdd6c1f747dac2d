"""The page of a review in a real browser: quiet, alone, legible, for phone and paper; an aborted run never looks finished."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from dryward.record.page import page
from dryward.record.queries import Record
from tests.record.batch import write_batch
from tests.record.browser import Browser

CONTRAST = """
(() => {
  const parse = (c) => c.match(/[\\d.]+/g).map(Number);
  const light = ([r, g, b]) => [r, g, b].map((v) => v / 255).map((v) => v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4)
    .reduce((sum, v, i) => sum + v * [0.2126, 0.7152, 0.0722][i], 0);
  const ground = (e) => { for (; e; e = e.parentElement) { const c = parse(getComputedStyle(e).backgroundColor); if (c.length < 4 || c[3] > 0.99) return c; } return [255, 255, 255]; };
  const low = [];
  for (const e of document.querySelectorAll("body *")) {
    const own = [...e.childNodes].some((n) => n.nodeType === 3 && n.textContent.trim());
    if (!own || e.closest("script, style") || !e.getClientRects().length) continue;
    const [a, b] = [light(parse(getComputedStyle(e).color)), light(ground(e))].sort((x, y) => y - x);
    const ratio = (a + 0.05) / (b + 0.05);
    if (ratio < 4.5) low.push([e.className, e.textContent.slice(0, 30), ratio]);
  }
  return low;
})()
"""


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("pages")
    found = {}
    for end in ("complete", "aborted", "stopped", ""):
        write_batch(folder / f"{end}.db", end=end, hot=end == "aborted")
        with Record(folder / f"{end}.db") as record:
            found[end] = folder / f"{end or 'open'}.html"
            found[end].write_text(page(record, "r1"))
    return found


@pytest.fixture
def browser() -> Iterator[Browser]:
    with Browser() as running:
        yield running


def test_the_page_is_whole_in_itself(pages: dict[str, Path]) -> None:
    text = pages["complete"].read_text()
    assert len(text.encode()) <= 300_000
    assert "default-src 'none'" in text
    assert not re.search(r"""(?:src|href)=["'](?!#|data:)""", text)


def test_control_characters_in_a_note_do_not_reach_the_page(tmp_path: Path) -> None:
    write_batch(tmp_path / "r.db")
    with closing(sqlite3.connect(tmp_path / "r.db")) as conn:
        conn.execute(
            "UPDATE note SET text = 'be' || char(7, 27, 155) || 'fore' || char(10) || 'after', who = char(1) || 'ann'"
        )
        conn.commit()
    with Record(tmp_path / "r.db") as record:
        text = page(record, "r1")
    assert "before\nafter" in text
    assert not re.search(r"[\x00-\x08\x0b-\x1f\x7f-\x9f]", text)


def test_no_request_no_complaint_and_what_people_wrote_is_only_text(pages: dict[str, Path], browser: Browser) -> None:
    browser.open(pages["complete"])
    assert [u for u in browser.requests if not u.startswith("data:")] == [pages["complete"].as_uri()]
    assert browser.complaints == []
    assert browser.run("window.bad") is None
    assert "window.bad=1" in browser.run("document.body.innerText")


@pytest.mark.parametrize("dark", [False, True])
def test_text_stands_out_from_its_ground(pages: dict[str, Path], browser: Browser, dark: bool) -> None:
    """4.5 to 1: WCAG 2.2, success criterion 1.4.3, level AA."""
    grounds = set()
    for path in pages.values():
        browser.open(path, dark=dark)
        assert browser.run(CONTRAST) == []
        grounds.add(browser.run("getComputedStyle(document.body).backgroundColor"))
    assert len(grounds) == 1
    assert (int(re.findall(r"\d+", grounds.pop())[0]) < 60) == dark


def test_a_narrow_phone_needs_no_sideways_scrolling(pages: dict[str, Path], browser: Browser) -> None:
    for path in pages.values():
        browser.open(path, width=360, height=740, touch=True)
        assert browser.run("document.documentElement.scrollWidth") <= 360


def test_the_longest_names_fit_a_phone_and_a_piece_that_gained_weight_has_no_bar(
    tmp_path: Path, browser: Browser
) -> None:
    """32 characters without a hyphen, as a batch file may have them; the scale shows more than the green weight."""
    path, longest = tmp_path / "r.db", "w" * 32
    write_batch(path)
    with closing(sqlite3.connect(path)) as conn:
        conn.execute("UPDATE piece SET name = ?, final_g = 1.1 * green_g WHERE name = 'loin-b'", (longest,))
        conn.execute("UPDATE request SET ask = replace(ask, 'loin-b', ?)", (longest,))
        conn.commit()
    with Record(path) as record:
        path.with_suffix(".html").write_text(page(record, "r1"))
    browser.open(path.with_suffix(".html"), width=360, height=740, touch=True)
    assert longest in browser.run("document.querySelector('#weighed ~ table').innerText")
    assert browser.run("document.documentElement.scrollWidth") <= 360
    bars = browser.run("[...document.querySelectorAll('.bar i')].map((bar) => bar.getBoundingClientRect().width)")
    assert bars[0] > 100
    assert bars[1] == 0


def test_a_mouse_a_finger_and_the_arrow_keys_read_values(pages: dict[str, Path], browser: Browser) -> None:
    browser.open(pages["complete"], height=2000)
    read = "document.querySelector('[data-chart=air]').closest('figure').querySelector('.keys').innerText"
    assert "°C" not in browser.run(read)
    box = browser.run(
        "(() => {const b = document.querySelector('[data-chart=air]').getBoundingClientRect(); return [b.x + b.width * 0.75, b.y + 50]})()"
    )
    browser.ask("Input.dispatchMouseEvent", type="mouseMoved", x=box[0], y=box[1])
    assert re.search(r"Program 60\.0 °C", browser.run(read))
    browser.run("document.querySelector('[data-chart=air]').focus()")
    browser.key("Home")
    assert "Program 50.0 °C" in browser.run(read)
    assert "Program 50.0 °C" in browser.run("document.activeElement.getAttribute('aria-valuetext')")
    browser.key("Escape")
    assert "°C" not in browser.run(read)
    browser.ask("Input.dispatchTouchEvent", type="touchStart", touchPoints=[{"x": box[0], "y": box[1]}])
    assert re.search(r"Program 60\.0 °C", browser.run(read))


def test_it_prints_on_a4_and_no_chart_is_cut(pages: dict[str, Path], browser: Browser) -> None:
    browser.open(pages["aborted"])
    paper = browser.paper()
    sizes = re.findall(rb"/MediaBox\s*\[0 0 ([\d.]+) ([\d.]+)\]", paper)
    assert sizes
    assert {(round(float(w) / 72 * 25.4), round(float(h) / 72 * 25.4)) for w, h in sizes} == {(210, 297)}  # ISO 216
    browser.ask("Emulation.setEmulatedMedia", media="print")
    kept = browser.run("[...document.querySelectorAll('figure')].map((f) => getComputedStyle(f).breakInside)")
    assert kept
    assert set(kept) == {"avoid"}


def test_only_a_finished_run_looks_finished(pages: dict[str, Path], browser: Browser) -> None:
    looks = {}
    for end, path in pages.items():
        browser.open(path)
        looks[end] = browser.run(
            "[document.title, document.querySelector('h1').innerText, getComputedStyle(document.querySelector('h1')).color,"
            " document.querySelector('.sign svg').innerHTML, document.querySelector('.answer').innerText]"
        )
    assert looks["complete"][2] != looks["aborted"][2]
    for one in (0, 1, 3, 4):
        others = {look[one] for end, look in looks.items() if end != "complete"}
        assert looks["complete"][one] not in others
    assert "ABORTED, NOT FINISHED" in looks["aborted"][1]
    assert "omplete" not in "".join(looks["aborted"][:2])
    browser.open(pages["aborted"])
    assert browser.run("[...document.querySelectorAll('.answer')][1].innerText").startswith("Yes")
    assert browser.run("document.querySelector('.tag.end').innerText") == "ABORTED"


def test_everything_drawn_has_words_for_those_who_do_not_see_it(pages: dict[str, Path], browser: Browser) -> None:
    browser.open(pages["complete"])
    labels = browser.run("[...document.querySelectorAll('.plot')].map((p) => p.getAttribute('aria-label'))")
    assert len(labels) >= 6
    assert all(labels)
    assert browser.run("[...document.querySelectorAll('h1,h2,h3,h4')].map((h) => +h.tagName[1])")[0] == 1
    assert browser.run("document.documentElement.lang") == "en"
