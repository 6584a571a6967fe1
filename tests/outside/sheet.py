"""Checks the demo's PDFs with qpdf and poppler.

Usage: sheet.py DEMO PICTURES; pictures of the pages are left in PICTURES for a person to look at.
"""

import json
import re
import subprocess
import sys
import tempfile
from pathlib import Path

from report import Report

A4 = (595.28, 841.89)  # points, ISO 216
MARGIN_MM = 4  # many printers cannot print closer to the edge
DPI = 50


def run(*words):
    """A program's exit code and everything it said."""
    done = subprocess.run([str(w) for w in words], capture_output=True, text=True, timeout=120, check=False)
    return done.returncode, done.stdout + done.stderr


def check_structure(report, pdf):
    code, said = run("qpdf", "--check", pdf)
    report.check(code == 0, f"{pdf.name}: qpdf --check: {said.strip()}")


def check_fonts(report, pdf):
    """Every font is embedded and there is at least one.

    Under a ruler pdffonts gives name, type, encoding, then `emb sub uni` and the object's two numbers (or `[none]`);
    a long name shifts the columns, so they are counted from the right.
    """
    _, said = run("pdffonts", pdf)
    lines = said.splitlines()
    ruler = next((n for n, line in enumerate(lines) if line.startswith("---")), None)
    rows = lines[ruler + 1 :] if ruler is not None else []
    report.check(bool(rows), f"{pdf.name}: no font at all: {said.strip()}")
    if ruler is None:
        return
    bare = [row for row in rows if embedded(row.split()) != "yes"]
    report.check(not bare, f"{pdf.name}: fonts not embedded: {bare}")


def embedded(words):
    """The column `emb` of a row of pdffonts."""
    return words[-5 if words[-1].isdigit() else -4]


def check_pages(report, pdf):
    """A4 throughout, with a title and tags for screen readers. Gives the number of pages."""
    _, said = run("pdfinfo", "-f", 1, "-l", 9999, pdf)
    sizes = re.findall(r"^Page\s+\d+ size:\s+([\d.]+) x ([\d.]+) pts", said, re.MULTILINE)
    report.check(bool(sizes), f"{pdf.name}: no page: {said.strip()}")
    other = {size for size in sizes if any(abs(float(have) - want) > 1 for have, want in zip(size, A4))}
    report.check(not other, f"{pdf.name}: pages that are not A4: {sorted(other)}")
    report.check(re.search(r"^Title:\s+\S", said, re.MULTILINE), f"{pdf.name}: the document has no title")
    report.check(re.search(r"^Tagged:\s+yes", said, re.MULTILINE), f"{pdf.name}: the document is not tagged")
    return len(sizes)


def check_ink(report, pdf):
    """Every page has something on it, and nothing in the margin that a printer cuts off."""
    with tempfile.TemporaryDirectory() as folder:
        code, said = run("pdftoppm", "-r", DPI, "-gray", pdf, Path(folder) / "page")
        pages = sorted(Path(folder).glob("*.pgm"))
        report.check(code == 0 and pages, f"{pdf.name}: pdftoppm: {said.strip()}")
        for number, page in enumerate(pages, 1):
            width, height, pixels = grey(page.read_bytes())
            edge = round(MARGIN_MM / 25.4 * DPI)
            rows = [pixels[y * width : (y + 1) * width] for y in range(height)]
            margin = rows[:edge] + rows[-edge:] + [row[:edge] + row[-edge:] for row in rows]
            report.check(min(pixels) < 128, f"{pdf.name}: page {number} is empty")
            report.check(min(map(min, margin)) > 200, f"{pdf.name}: page {number} prints into the outer {MARGIN_MM} mm")


def grey(data):
    """Width, height and pixels of a binary PGM."""
    head = re.match(rb"P5\s+(\d+)\s+(\d+)\s+255\s", data)
    width, height = int(head[1]), int(head[2])
    return width, height, data[head.end() : head.end() + width * height]


def check_order(report, pdf, ladder):
    """The title comes first, then the riffs in ladder order, in the order in which the text was written."""
    _, text = run("pdftotext", "-raw", pdf, "-")
    text = " ".join(text.split())
    title, names = ladder["title"], [rung["riff"] for rung in ladder["rungs"]]
    report.check(bool(names), "ladder.json has no rungs")
    places = [place(text, name) for name in names]
    missing = [name for name, at in zip(names, places) if at is None]
    if not report.check(not missing, f"{pdf.name}: riffs that the text does not name: {missing}"):
        return
    at = place(text, title)
    report.check(at is not None and at < min(places), f"{pdf.name}: the title `{title}` does not come before the riffs")
    report.check(places == sorted(places), f"{pdf.name}: riffs are not in ladder order: {by_place(names, places)}")
    # A table of the whole ladder may come first: then the riffs themselves follow, in the same order.
    if all(len(list(places_of(text, name))) > 1 for name in names):
        end = max(places)
        again = []
        for name in names:
            end = next((p for p in places_of(text, name) if p > end), None)
            again.append(end)
            if end is None:
                break
        report.check(None not in again, f"{pdf.name}: after the ladder the riffs are not in ladder order")


def places_of(text, name):
    pattern = r"(?<!\w)" + re.escape(" ".join(name.split())) + r"(?!\w)"
    return (match.start() for match in re.finditer(pattern, text))


def place(text, name):
    return next(places_of(text, name), None)


def by_place(names, places):
    return [name for _, name in sorted(zip(places, names))]


def check_pdf(report, pdf, ladder=None):
    """All checks of one PDF; the reading order too when the ladder is given."""
    if not report.check(pdf.is_file(), f"{pdf} is not there"):
        return
    check_structure(report, pdf)
    check_fonts(report, pdf)
    check_pages(report, pdf)
    check_ink(report, pdf)
    if ladder is not None:
        check_order(report, pdf, ladder)


def main(demo, pictures):
    report = Report()
    read = report.attempt("ladder.json", lambda: json.loads((demo / "ladder.json").read_text(encoding="utf-8")))
    check_pdf(report, demo / "sheet.pdf", read)
    check_pdf(report, demo / "answers.pdf")
    pictures.mkdir(parents=True, exist_ok=True)
    for name in ("sheet", "answers"):
        if (demo / f"{name}.pdf").is_file():
            run("pdftoppm", "-r", 80, "-png", demo / f"{name}.pdf", pictures / name)
    print(f"sheet: pictures of the pages are in {pictures}")
    return report.end()


if __name__ == "__main__":
    if len(sys.argv) != 3:
        sys.exit("usage: sheet.py DEMO PICTURES")
    sys.exit(main(Path(sys.argv[1]), Path(sys.argv[2])))
