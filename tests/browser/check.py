"""Look at report pages in a real browser.

usage: check.py CHROMIUM FOLDER PAGE.html...

Pictures and prints go to FOLDER. Prints one line per check; exit code 1 when
any of them fails.
"""

import pathlib
import sys

from chromium import Chromium
from sheets import split

here = pathlib.Path(__file__).parent
program, folder, pages = sys.argv[1], pathlib.Path(sys.argv[2]), sys.argv[3:]
failed = 0


def check(ok, what, detail=""):
    global failed
    failed += not ok
    print(("ok   " if ok else "BAD  ") + what + (f": {detail}" if detail != "" and not ok else ""))


def troubles(browser):
    """Errors on the console, uncaught exceptions, and requests beyond the page itself."""
    said, asked = [], []
    for event in browser.events:
        method, params = event.get("method"), event.get("params", {})
        if method == "Runtime.consoleAPICalled" and params["type"] in ("error", "warning", "assert"):
            said.append(str(params["args"]))
        elif method == "Runtime.exceptionThrown":
            said.append(params["exceptionDetails"]["text"])
        elif method == "Log.entryAdded" and params["entry"]["level"] in ("error", "warning"):
            said.append(params["entry"]["text"])
        elif method == "Network.requestWillBeSent":
            asked.append(params["request"]["url"])
    return said, asked


def keyboard(browser, name):
    """Tab reaches every link, button and fold, each with a visible focus."""
    wanted = browser.js(
        "[...document.querySelectorAll('a[href], button, summary, [tabindex=\"0\"]')]"
        ".filter(e => e.checkVisibility()).length"
    )
    browser.js("window.scrollTo(0, 0); document.activeElement.blur()")
    reached, unseen = set(), []
    for _ in range(wanted + 5):
        browser.key("Tab")
        at = browser.js(
            "(() => { const e = document.activeElement; if (!e || e === document.body) return null;"
            " e.dataset.n ||= String(Math.random());"
            " const s = getComputedStyle(e);"
            " return [e.dataset.n, e.tagName + ' ' + (e.textContent || '').trim().slice(0, 20),"
            "   s.outlineStyle !== 'none' && parseFloat(s.outlineWidth) >= 2]; })()"
        )
        if at:
            reached.add(at[0])
            if not at[2]:
                unseen.append(at[1])
    check(len(reached) >= wanted, f"{name}: Tab reaches all {wanted} controls", f"{len(reached)}")
    check(not unseen, f"{name}: the focus is visible everywhere", unseen[:5])


def zoom(browser, name):
    """A zoom button works from the keyboard and changes the plot."""
    if not browser.js("!!document.querySelector('.zoom:not([hidden]) button')"):
        return
    shape = "[...document.querySelectorAll('svg.live')].map(s => s.innerHTML.length + s.innerHTML.slice(0, 3000)).join()"
    before = browser.js(shape)
    browser.js("document.querySelector('.zoom:not([hidden]) button').focus()")
    browser.key("Enter", text="\r")
    browser.js("new Promise(done => setTimeout(done, 300))")
    after = browser.js(shape)
    check(before != after, f"{name}: a zoom button pressed by Enter changes the plot")
    told = browser.js("document.querySelector('.readout[role=\"status\"]')?.textContent ?? ''")
    check("to" in told and any(c.isdigit() for c in told), f"{name}: what is shown then is announced", told)


# Drawings that a screen reader meets without a word for them.
NAMELESS = """
[...document.querySelectorAll('svg')].filter(s => {
  for (let e = s; e; e = e.parentElement) {
    if (e.getAttribute('aria-hidden') === 'true') return false;
    if (e.hasAttribute('aria-label') || e.hasAttribute('aria-labelledby')) return false;
  }
  return s.getBoundingClientRect().width > 0;
}).map(s => s.outerHTML.slice(0, 120))
"""

# Plots whose label does not say what the eye would see.
UNTOLD = """
[...document.querySelectorAll('svg.plot')].map(s => s.getAttribute('aria-label') || '')
  .filter(l => !/ (falls|rises|steady|between|highest|has no reading|no curve|no trend|nothing) ?/.test(l))
"""

# The first table that tells a fall of height shows it on a phone without scrolling.
HEIGHT = """
(() => {
  const head = [...document.querySelectorAll('.scroll thead th')].find(t => t.textContent.includes('as height'));
  if (!head) return 'none';
  const [own, box] = [head.getBoundingClientRect(), head.closest('.scroll').getBoundingClientRect()];
  return own.right <= box.right + 1 ? 'seen' : `ends ${Math.round(own.right - box.right)} px beyond`;
})()
"""

# Words that run out of the page; tables scroll, what is said about them must not.
CUT = """
[...document.querySelectorAll('h1, h2, h3, p, li, figcaption, .caption')]
  .filter(e => e.checkVisibility() && !e.closest('.scroll') && getComputedStyle(e).clipPath === 'none')
  .filter(e => e.getBoundingClientRect().right > document.documentElement.clientWidth + 1)
  .map(e => e.textContent.trim().slice(0, 40))
"""

# Labels below a plot that touch.
OVERLAP = """
[...document.querySelectorAll('svg.x')].flatMap(strip => {
  const boxes = [...strip.querySelectorAll('text')].filter(t => getComputedStyle(t).display !== 'none')
    .map(t => [t.getBoundingClientRect(), t.textContent]).filter(b => b[0].width > 0)
    .sort((a, b) => a[0].left - b[0].left);
  return boxes.slice(1).filter((b, i) => b[0].left < boxes[i][0].right + 1).map(b => b[1]);
})
"""

browser = Chromium(program)
try:
    for page in pages:
        path = pathlib.Path(page).resolve()
        name = path.stem
        check(path.stat().st_size < 2_000_000, f"{name}: below 2 MB", path.stat().st_size)
        for width, height, dark in ((390, 844, False), (390, 844, True), (1280, 900, False), (1280, 900, True)):
            look = f"{name} {width} px {'dark' if dark else 'light'}"
            browser.screen(width, height, dark)
            browser.open(path.as_uri())
            said, asked = troubles(browser)
            check(not said, f"{look}: nothing on the console", said)
            check(asked == [path.as_uri()], f"{look}: no request but the page itself", asked)
            over = browser.js("document.documentElement.scrollWidth - document.documentElement.clientWidth")
            check(over <= 0, f"{look}: nothing sticks out sideways", f"{over} px")
            cut = browser.js(CUT)
            check(not cut, f"{look}: no caption or sentence is cut at the edge", cut[:5])
            height = browser.js(HEIGHT)
            check(height in ("seen", "none"), f"{look}: the table of losses keeps its height", height)
            check(height == "seen" or name != "leaks", f"{look}: there is a table of losses", height)
            over = browser.js(OVERLAP)
            check(not over, f"{look}: no label of an axis lies on its neighbour", over[:5])
            got = browser.js((here / "contrast.js").read_text())
            check(got["seen"] > 50, f"{look}: text was looked at", got["seen"])
            check(not got["bad"], f"{look}: contrast of {got['seen']} texts", got["bad"][:6])
            browser.picture(folder / f"{name}-{width}{'-dark' if dark else ''}.png")
        browser.screen(1280, 900, False)
        browser.open(path.as_uri())
        check(browser.js("document.documentElement.lang === 'en' && document.querySelectorAll('h1').length === 1"),
              f"{name}: one heading of the first order, language named")
        nameless = browser.js(NAMELESS)
        check(not nameless, f"{name}: every drawing has a name or is hidden from readers", nameless[:5])
        untold = browser.js(UNTOLD)
        check(not untold, f"{name}: every plot says its trend in its label", untold[:5])
        keyboard(browser, name)
        zoom(browser, name)
        data = browser.pdf(folder / f"{name}.pdf")
        sheets = data.count(b"/Type /Page\n") + data.count(b"/Type /Page ") + data.count(b"/Type /Page/")
        check(data.startswith(b"%PDF") and len(data) > 20_000, f"{name}: prints to PDF ({sheets} sheets)", len(data))
        said, asked = troubles(browser)
        check(not said and asked == [path.as_uri()], f"{name}: still quiet after use", (said, asked))
        seen, lost, torn = split(browser, folder / f"{name}-marked.pdf")
        check(not lost, f"{name}: all {seen} tables, figures and findings are printed", lost[:5])
        check(not torn, f"{name}: none of {seen} small tables, figures and findings is split in print", torn[:5])
finally:
    browser.close()
sys.exit(1 if failed else 0)
