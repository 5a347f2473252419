"""What must stand on one sheet of a print, and whether it does."""

import re

# A link at the first and at the last line of everything that must not be split: in the
# print each becomes an annotation of its sheet.
MARK = """
(() => {
  const names = [];
  const link = (place, name, first) => {
    const a = document.createElement('a');
    a.href = 'https://mark.invalid/' + name;
    a.textContent = '\\u00b7';
    first ? place.prepend(a) : place.append(a);
  };
  document.querySelectorAll('table.few, figure, .finding, .check').forEach((e, i) => {
    if (!e.checkVisibility() || e.closest('details')) return;
    const cells = e.matches('table') ? [...e.querySelectorAll('tbody th, tbody td')] : [e];
    if (!cells.length) return;
    link(cells[0], i + '-first', true);
    link(cells[cells.length - 1], i + '-last', false);
    const name = e.querySelector('caption, figcaption, h3') || e;
    names.push([i, e.tagName.toLowerCase() + ' ' + name.textContent.trim().slice(0, 40)]);
  });
  return names;
})()
"""


def objects(pdf):
    """Objects of a print that stand in it uncompressed, by number."""
    found = re.finditer(rb"(\d+) 0 obj\b(.*?)\bendobj", pdf, re.S)
    return {int(m[1]): m[2] for m in found}


def sheets_of_marks(pdf):
    """Number of the sheet of every mark."""
    all_objects = objects(pdf)
    pages = sorted(n for n, o in all_objects.items() if re.search(rb"/Type\s*/Page\b", o))
    sheets = {}
    for sheet, number in enumerate(pages, 1):
        listed = re.search(rb"/Annots\s*\[(.*?)\]", all_objects[number], re.S)
        for reference in re.findall(rb"(\d+) 0 R", listed[1]) if listed else []:
            uri = re.search(rb"mark\.invalid/(\d+-\w+)", all_objects.get(int(reference), b""))
            if uri:
                sheets.setdefault(uri[1].decode(), sheet)
    return sheets


def split(browser, path):
    """Print the page with marks: how much was looked at, and what is split."""
    names = browser.js(MARK)
    sheets = sheets_of_marks(browser.pdf(path))
    seen = [(name, sheets.get(f"{i}-first"), sheets.get(f"{i}-last")) for i, name in names]
    lost = [name for name, first, last in seen if first is None or last is None]
    torn = [f"{name} (sheets {first} and {last})" for name, first, last in seen if first != last]
    return len(seen), lost, torn
