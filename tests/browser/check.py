#!/usr/bin/env python3
"""Opens a page in Chromium and prints what there is to say about it as JSON.

usage: check.py PAGE [FOLDER]

With a FOLDER, pictures of the page at each width and its print are put there. Needs playwright and
axe-playwright-python (scripts/setup.sh --tests) and Debian's chromium; nothing is loaded from the network.
"""

import json
import re
import sys
from pathlib import Path

import axe_playwright_python
from playwright.sync_api import sync_playwright

CHROMIUM = "/usr/bin/chromium"
OPTIONS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-dev-shm-usage"]
WIDTHS = {390: 844, 1280: 900}
AXE = Path(axe_playwright_python.__file__).with_name("axe.min.js")

# A4 without the margins of the page's style, in CSS pixels.
PRINTED_WIDTH, PRINTED_HEIGHT = round((210 - 28) / 25.4 * 96), round((297 - 30) / 25.4 * 96)

# What must stay on one sheet, and how high it is.
HEIGHTS = """() => [...document.querySelectorAll('figure, img, svg, .drill, .pair, tr')]
  .map(e => e.getBoundingClientRect().height)"""

# Leaves the part of a review that is for the player, if there is one.
PLAYER_ONLY = """() => {
  const player = document.querySelector('.player');
  if (player) document.querySelectorAll('.coach, footer').forEach(e => e.remove());
  return !!player;
}"""

OVERFLOW = "() => document.documentElement.scrollWidth - document.documentElement.clientWidth"


def violations(page):
    page.evaluate(AXE.read_text(encoding="utf-8"))
    found = page.evaluate("() => axe.run(document)")
    return [
        f"{rule['id']}: {' '.join(node['target'][0] for node in rule['nodes'][:3] if node['target'])}"
        for rule in found["violations"]
    ]


def printed(page):
    """The sheets of a page's print, width and height in points, and the print itself."""
    sheets = page.pdf(prefer_css_page_size=True, print_background=True)
    boxes = re.findall(rb"/MediaBox\s*\[([^\]]*)\]", sheets)
    return [[round(float(n)) for n in box.split()[2:]] for box in boxes], sheets


def main(path, folder):
    address = Path(path).resolve().as_uri()
    told = {"violations": {}, "overflow": {}, "requests": []}
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=CHROMIUM, args=OPTIONS)

        def opened(width, scripts=True):
            context = browser.new_context(
                viewport={"width": width, "height": WIDTHS[width]}, java_script_enabled=scripts, offline=True
            )
            page = context.new_page()
            page.on("request", lambda request: told["requests"].append(request.url[:200]))
            page.goto(address, wait_until="load")
            return page

        for width in WIDTHS:
            page = opened(width)
            told["overflow"][width] = page.evaluate(OVERFLOW)
            told["violations"][width] = violations(page)
            if folder:
                page.screenshot(path=folder / f"{width}.png", full_page=True)
        with_scripts = page.inner_text("body")
        told["scripts"] = page.locator("script").count()
        page.emulate_media(media="print")
        page.set_viewport_size({"width": PRINTED_WIDTH, "height": PRINTED_HEIGHT})
        told["highest"] = max(page.evaluate(HEIGHTS), default=0) / PRINTED_HEIGHT
        told["print_overflow"] = page.evaluate(OVERFLOW)
        page.emulate_media(media=None)
        told["sheets"], sheets = printed(page)
        if folder:
            (folder / "print.pdf").write_bytes(sheets)
        told["player_sheets"] = len(printed(page)[0]) if page.evaluate(PLAYER_ONLY) else 0

        page = opened(1280, scripts=False)
        told["same_without_scripts"] = page.inner_text("body") == with_scripts
        told["broken_images"] = page.evaluate(
            "() => [...document.images].filter(i => i.loading != 'lazy' && !i.naturalWidth).length"
        )
        browser.close()
    told["requests"] = [url for url in told["requests"] if url != address and not url.startswith("data:")]
    print(json.dumps(told, indent=1))


if __name__ == "__main__":
    if len(sys.argv) not in (2, 3):
        sys.exit(__doc__)
    main(sys.argv[1], Path(sys.argv[2]) if len(sys.argv) == 3 else None)
