// What a page must keep for everyone: names, contrast, ids that lead somewhere. Run inside the page; returns what is wrong.
// Contrast and relative luminance by the glossary of WCAG 2.1.
() => {
  const wrong = [];
  const lum = (c) => { const f = (v) => (v /= 255) <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4;
    return 0.2126 * f(c[0]) + 0.7152 * f(c[1]) + 0.0722 * f(c[2]); };
  const rgb = (s) => (s.match(/[\d.]+/g) || [0, 0, 0, 0]).map(Number);
  const ratio = (a, b) => { const [x, y] = [lum(a), lum(b)].sort((p, q) => q - p); return (x + 0.05) / (y + 0.05); };
  const ground = (e) => { for (; e; e = e.parentElement) { const c = rgb(getComputedStyle(e).backgroundColor);
    if (c.length < 4 || c[3] === 1) return c; } return [255, 255, 255]; };
  const shown = (e) => e.getClientRects().length && getComputedStyle(e).visibility === "visible";
  let texts = 0;
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walk.nextNode()) {
    const e = walk.currentNode.parentElement;
    if (!walk.currentNode.data.trim() || !shown(e) || e.closest(":disabled, noscript, option")) continue;
    const style = getComputedStyle(e), svg = e.closest("svg");
    const under = e.classList.contains("on-panel") && rgb(getComputedStyle(e.parentElement.querySelector(".panel")).fill);
    const colour = rgb(svg ? style.fill : style.color), r = ratio(colour, under || ground(svg || e));
    texts += 1;
    if (r < 4.5) wrong.push(`contrast ${r.toFixed(2)}: ${walk.currentNode.data.trim().slice(0, 40)} ${e.className.baseVal ?? e.className}`);
  }
  for (const e of document.querySelectorAll("input[type=text], select")) {
    if (!shown(e)) continue;
    const r = ratio(rgb(getComputedStyle(e).borderTopColor), ground(e.parentElement));
    if (r < 3) wrong.push(`edge ${r.toFixed(2)} of ${e.id}`);
  }
  let named = 0;
  for (const e of document.querySelectorAll("button, input, select, a, canvas, [role=button], [role=img], [role=group], section, summary, dialog")) {
    const by = (e.getAttribute("aria-labelledby") || "").split(" ").map((i) => document.getElementById(i)?.textContent).join("");
    const name = e.getAttribute("aria-label") || by || [...(e.labels || [])].map((l) => l.textContent).join("") || (/^(BUTTON|A|SUMMARY)$/.test(e.tagName) && e.textContent) || e.querySelector?.(":scope > h2, :scope > legend")?.textContent;
    named += 1;
    if (!(name || "").trim() && !e.closest("#results section, .marks")) wrong.push(`no name: ${e.outerHTML.slice(0, 90)}`);
  }
  const ids = [...document.querySelectorAll("[id]")].map((e) => e.id);
  for (const id of new Set(ids.filter((x, i) => ids.indexOf(x) !== i))) wrong.push(`id twice: ${id}`);
  for (const e of document.querySelectorAll("[aria-describedby], [aria-controls], label[for]")) {
    const id = e.getAttribute("aria-describedby") || e.getAttribute("aria-controls") || e.getAttribute("for");
    if (!document.getElementById(id)) wrong.push(`leads nowhere: ${id}`);
  }
  if (document.documentElement.scrollWidth > innerWidth + 1) wrong.push("wider than the window");
  if (!document.documentElement.lang || document.querySelectorAll("h1, main").length !== 2) wrong.push("no language, heading or main part");
  return { wrong, texts, named };
}
