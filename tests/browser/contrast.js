// Every piece of text against what lies behind it. WCAG 2.2, 1.4.3: contrast
// (L1 + 0.05) / (L2 + 0.05) of relative luminances, 4.5 for text, 3 for large.
(() => {
  const parse = (c) => {
    const n = (c.match(/[\d.]+/g) || []).map(Number);
    return n.length > 3 ? n : [...n, 1];
  };
  const linear = (v) => {
    const s = v / 255;
    return s <= 0.04045 ? s / 12.92 : ((s + 0.055) / 1.055) ** 2.4;
  };
  const luminance = (c) => 0.2126 * linear(c[0]) + 0.7152 * linear(c[1]) + 0.0722 * linear(c[2]);
  const over = (top, below) => top.slice(0, 3).map((v, i) => v * top[3] + below[i] * (1 - top[3])).concat(1);
  const behind = (element) => {
    const layers = [];
    for (let e = element; e; e = e.parentElement) {
      const c = parse(getComputedStyle(e).backgroundColor);
      if (c[3] > 0) layers.push(c);
      if (c[3] === 1) break;
    }
    return layers.reverse().reduce((below, top) => over(top, below), [255, 255, 255, 1]);
  };
  const bad = [];
  let seen = 0;
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walker.nextNode()) {
    const text = walker.currentNode.textContent.trim();
    const element = walker.currentNode.parentElement;
    if (!text || ["SCRIPT", "STYLE"].includes(element.tagName)) continue;
    const style = getComputedStyle(element);
    const box = element.getBoundingClientRect();
    if (style.visibility === "hidden" || box.width < 2 || box.height < 2) continue;
    const svg = element.namespaceURI.endsWith("/svg");
    const ink = parse(svg ? style.fill : style.color);
    if (ink.length < 4) continue;
    const ground = behind(element);
    const [a, b] = [luminance(over(ink, ground)), luminance(ground)].sort((x, y) => y - x);
    const ratio = (a + 0.05) / (b + 0.05);
    const size = parseFloat(style.fontSize);
    const large = size >= 24 || (size >= 18.66 && Number(style.fontWeight) >= 700);
    seen += 1;
    if (ratio < (large ? 3 : 4.5)) bad.push(`${ratio.toFixed(2)} ${element.tagName} "${text.slice(0, 40)}"`);
  }
  return { seen, bad: [...new Set(bad)] };
})();
