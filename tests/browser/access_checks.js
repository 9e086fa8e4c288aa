// What a page must keep to whoever uses it: names, labels, contrast, sizes, one order of focus. Gives sentences; none
// is good. Sources: WCAG 2.2 (W3C, 2023): 1.3.1, 1.4.3, 1.4.10, 1.4.11, 2.1.1, 2.4.3, 2.4.7, 2.5.8, 4.1.2; 44 px is our
// own rule for oily hands.
const LEAST_TARGET_PX = 44;
const found = [];
const visible = (e) => e.checkVisibility({checkOpacity: true, checkVisibilityCSS: true}) &&
  e.getClientRects().length > 0 && !e.closest(".unseen, .skip") &&
  (!document.querySelector("dialog[open]") || e.closest("dialog"));
const where = (e) => `<${e.tagName.toLowerCase()}${e.id ? " id=" + e.id : ""}${
                       e.className && e.className.baseVal === undefined ? " class=" + e.className : ""}> ` +
  `"${(e.textContent || "").trim().slice(0, 40)}"`;

const channel = (c) => (c / 255 <= 0.04045 ? c / 255 / 12.92 : ((c / 255 + 0.055) / 1.055) ** 2.4);
const luminance = ([r, g, b]) => 0.2126 * channel(r) + 0.7152 * channel(g) + 0.0722 * channel(b);
const parts = (colour) => (colour.match(/[\d.]+/g) || []).map(Number);
const ratio = (a, b) => {
  const [high, low] = [luminance(a), luminance(b)].sort((x, y) => y - x);
  return (high + 0.05) / (low + 0.05);
};
function ground(e) {
  for (let at = e; at; at = at.parentElement) {
    const c = parts(getComputedStyle(at).backgroundColor);
    if (c.length >= 3 && (c.length < 4 || c[3] === 1)) return c;
  }
  return [255, 255, 255];
}

// 1.4.3: every text against what lies behind it.
const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
const seen = new Set();
while (walker.nextNode()) {
  const e = walker.currentNode.parentElement;
  if (!walker.currentNode.textContent.trim() || seen.has(e) || e.closest("script, svg, noscript") || !visible(e))
    continue;
  seen.add(e);
  const style = getComputedStyle(e);
  const px = parseFloat(style.fontSize);
  const large = px >= 24 || (px >= 18.66 && Number(style.fontWeight) >= 700);
  const value = ratio(parts(style.color), ground(e));
  if (value < (large ? 3 : 4.5)) found.push(`contrast ${value.toFixed(2)} of ${where(e)}`);
  if (px < 12) found.push(`text of ${px} px: ${where(e)}`);
}
// 4.1.2 and 1.3.1: what can be worked has a name.
const name = (e) => {
  const by = e.getAttribute("aria-labelledby");
  return (e.getAttribute("aria-label") ||
    (by && by.split(" ").map((id) => document.getElementById(id)?.textContent).join(" ")) ||
    [...(e.labels || [])].map((one) => one.textContent).join(" ") ||
    (e.matches("input, select") ? "" : e.textContent) || e.title || "")
    .trim();
};
for (
  const e of document.querySelectorAll(
    "a[href], button, input, select, summary, [role=img], [role=progressbar], [role=region], dialog[open], section.view"))
  if (visible(e) && !name(e)) found.push(`no name: ${where(e)}`);
// 2.5.8 (AA asks for 24 px), and what a thumb needs.
for (const e of document.querySelectorAll("a[href], button, input, select, summary")) {
  if (!visible(e)) continue;
  const label = e.closest("label");
  const box = (e.matches("[type=checkbox], [type=radio]") && label ? label : e).getBoundingClientRect();
  // A link within a sentence is as high as its line (2.5.8, inline).
  if (e.matches("a") && getComputedStyle(e).display === "inline") continue;
  if (box.height < LEAST_TARGET_PX - 0.5 || box.width < LEAST_TARGET_PX - 0.5)
    found.push(`target of ${box.width.toFixed(0)} x ${box.height.toFixed(0)} px: ${where(e)}`);
}
// 4.1.1 of old, and what aria refers to.
const ids = [...document.querySelectorAll("[id]")].map((e) => e.id);
for (const id of new Set(ids))
  if (ids.filter((one) => one === id).length > 1) found.push(`two elements have the id ${id}`);
for (const e of document.querySelectorAll("[aria-labelledby], [aria-describedby], label[for]"))
  for (const id of (e.getAttribute("aria-labelledby") || e.getAttribute("aria-describedby") || e.getAttribute("for"))
         .split(" "))
    if (visible(e) && !document.getElementById(id)) found.push(`${where(e)} refers to ${id}, which is not there`);
// 1.4.10: no scrolling in two directions.
if (document.documentElement.scrollWidth > innerWidth + 1)
  found.push(`the page is ${document.documentElement.scrollWidth} px wide on ${innerWidth}`);
// 2.4.3: the order is that of the document.
for (const e of document.querySelectorAll("[tabindex]"))
  if (Number(e.getAttribute("tabindex")) > 0) found.push(`tabindex above 0: ${where(e)}`);
if (!document.documentElement.lang) found.push("the page's language is not said");
// A dialog over the page has its own heading; what lies behind it is out of reach.
const headings = document.querySelectorAll(document.querySelector("dialog[open]") ? "dialog[open] h2" : "h1");
if (![...headings].some(visible)) found.push("no heading of the first level, or of the dialog, is shown");
// Our own: a policy without inline style is worth something only where nothing needs it.
for (const e of document.querySelectorAll("[onclick], script:not([src])"))
  found.push(`script within the page: ${where(e)}`);
return found;
