"""Opens the demo's page from a file in a browser without a screen and uses it.

Usage: page.py DEMO PICTURES BROWSER; screenshots are left in PICTURES for a person to look at.
"""

import json
import sys
import tempfile
from contextlib import contextmanager
from pathlib import Path

from playwright.sync_api import Error, sync_playwright

from report import Report

FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
WIDTHS = (360, 1280)
SCHEMES = ("light", "dark")
HARMLESS = ("data:", "blob:", "about:")

# Listens in on what the page sends to the loudspeaker: a meter beside every way into it.
LISTEN = """
(() => {
  const heard = { contexts: [], meters: [], media: [] };
  window.__heard = heard;
  const Plain = window.AudioContext;
  window.AudioContext = class extends Plain {
    constructor(...words) { super(...words); heard.contexts.push(this); }
  };
  const connect = AudioNode.prototype.connect;
  AudioNode.prototype.connect = function (target, ...words) {
    if (target instanceof AudioDestinationNode && !(this.context instanceof OfflineAudioContext)) {
      const meter = this.context.createAnalyser();
      meter.fftSize = 8192;
      connect.call(this, meter);
      heard.meters.push(meter);
    }
    return connect.call(this, target, ...words);
  };
  const play = HTMLMediaElement.prototype.play;
  HTMLMediaElement.prototype.play = function () { heard.media.push(this); return play.call(this); };
  heard.sounds = () => {
    const running = heard.contexts.some((context) => context.state === 'running' && context.currentTime > 0);
    const loud = heard.meters.some((meter) => {
      const wave = new Float32Array(meter.fftSize);
      meter.getFloatTimeDomainData(wave);
      return wave.some((sample) => Math.abs(sample) > 0.003);
    });
    const media = heard.media.some((one) => !one.paused && !one.muted && one.volume > 0 && one.currentTime > 0);
    return (running && loud) || media;
  };
})();
"""

NAMELESS = """
() => [...document.querySelectorAll('button, a[href], input, select')]
  .filter((one) => !(one.textContent.trim() || one.getAttribute('aria-label') || one.getAttribute('aria-labelledby')
    || one.title || (one.labels && one.labels.length)))
  .map((one) => one.outerHTML.slice(0, 80))
"""


@contextmanager
def browser(program):
    """A browser with an empty profile of its own, thrown away afterwards."""
    with sync_playwright() as playwright, tempfile.TemporaryDirectory() as profile:
        context = playwright.chromium.launch_persistent_context(
            profile, executable_path=str(program), headless=True, args=FLAGS, viewport={"width": 1280, "height": 900}
        )
        context.set_default_timeout(15_000)
        context.add_init_script(LISTEN)
        try:
            yield context
        finally:
            context.close()


def open_page(report, context, path):
    """Opens the file and records what it complains about and what it asks for."""
    page = context.new_page()
    page.complaints, page.requests = [], []
    page.on("console", lambda m: page.complaints.append(m.text) if m.type == "error" else None)
    page.on("pageerror", lambda why: page.complaints.append(str(why)))
    page.on("request", lambda request: page.requests.append(request.url))
    page.goto(path.resolve().as_uri(), wait_until="load")
    return page


def check_quiet(report, page, path):
    """No complaint on the console; nothing asked for but the file itself and what it carries."""
    own = path.resolve().as_uri()
    strange = [url[:120] for url in page.requests if url != own and not url.startswith(HARMLESS)]
    report.check(not page.complaints, f"errors on the console: {page.complaints[:5]}")
    report.check(not strange, f"requests beyond the file: {strange[:5]}")


def check_document(report, page, rungs):
    """Language, title, one main heading, a riff for every rung, and a name for everything that can be used."""
    report.check(page.evaluate("document.documentElement.lang"), "the page does not say its language")
    report.check(page.title().strip(), "the page has no title")
    report.same(page.locator("h1").count(), 1, "main headings")
    report.same(page.locator("section:has(button[data-play])").count(), rungs, "riffs that can be played")
    report.same(page.locator("img:not([alt])").count(), 0, "pictures without words")
    report.same(page.evaluate(NAMELESS), [], "controls without a name")


def check_play(report, page, number, press, how):
    """Pressing a riff's button makes it sound, and its section says so."""
    section = page.locator("section:has(button[data-play])").nth(number)
    button = section.locator("button[data-play]").first
    try:
        press(button)
        page.wait_for_function(
            "(n) => [...document.querySelectorAll('section:has(button[data-play])')][n].hasAttribute('data-playing')",
            arg=number,
        )
        report.check(True, "")
        page.wait_for_function("() => window.__heard.sounds()")
        report.check(True, "")
    except Error as why:
        report.check(False, f"riff {number + 1} does not play with the {how}: {str(why).splitlines()[0]}")


def check_layouts(report, page, pictures):
    """Fits a phone and a screen without sideways scrolling, in light and in dark; leaves a picture of each."""
    pictures.mkdir(parents=True, exist_ok=True)
    shades = {}
    for scheme in SCHEMES:
        page.emulate_media(color_scheme=scheme, reduced_motion="reduce")
        for width in WIDTHS:
            page.set_viewport_size({"width": width, "height": 900})
            page.wait_for_timeout(150)
            wide = page.evaluate("document.scrollingElement.scrollWidth")
            report.check(wide <= width, f"at {width} pixels the page is {wide} wide and scrolls sideways")
            page.screenshot(path=str(pictures / f"page-{width}-{scheme}.png"), full_page=True)
        shades[scheme] = page.evaluate("() => getComputedStyle(document.body).color")
    report.check(shades["light"] != shades["dark"], f"dark looks like light: text is {shades['dark']} in both")


def check_page(report, context, path, pictures, rungs):
    """All checks of one page."""
    page = open_page(report, context, path)
    check_document(report, page, rungs)
    if page.locator("section:has(button[data-play])").count():
        check_play(report, page, 0, lambda button: button.click(), "mouse")
    if rungs > 1:
        page.close()
        checked = page
        page = open_page(report, context, path)
        page.complaints += checked.complaints
        page.requests += checked.requests
        check_play(report, page, 1, lambda button: button.press("Enter"), "keyboard")
    check_layouts(report, page, pictures)
    check_quiet(report, page, path)
    page.close()


def main(demo, pictures, program):
    report = Report()
    path = demo / "page.html"
    ladder = report.attempt("ladder.json", lambda: json.loads((demo / "ladder.json").read_text(encoding="utf-8")))
    if ladder is not None and report.check(path.is_file(), f"{path} is not there"):
        with browser(program) as context:
            rungs = len(ladder["rungs"])
            report.attempt("page", lambda: check_page(report, context, path, pictures, rungs))
        print(f"page: screenshots are in {pictures}")
    return report.end()


if __name__ == "__main__":
    if len(sys.argv) != 4:
        sys.exit("usage: page.py DEMO PICTURES BROWSER")
    sys.exit(main(*map(Path, sys.argv[1:])))
