// Making and changing elements. Nothing here puts text into the document as HTML.

/// An element with its class, attributes, listeners and children; texts become text nodes.
export function make(tag, options = {}, ...children) {
  const element = document.createElement(tag);
  const {on = {}, text, ...attributes} = options;
  for (const [name, value] of Object.entries(attributes)) setAttribute(element, name, value);
  for (const [name, listener] of Object.entries(on)) element.addEventListener(name, listener);
  if (text !== undefined) setText(element, text);
  element.append(...present(children.flat(2)));
  return element;
}

/// Parts that are there only under a condition are `false`, `null` or nothing where it does not hold.
function present(children) {
  return children.filter((child) => child !== null && child !== undefined && child !== false);
}

/// An element of a drawing.
export function draw(tag, attributes = {}, ...children) {
  const element = document.createElementNS("http://www.w3.org/2000/svg", tag);
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, String(value));
  element.append(...children);
  return element;
}

/// Writes only what changed: frames come twenty times a second, and the document is dear.
export function setText(element, text) {
  if (element.shownText === text) return;
  element.shownText = text;
  element.textContent = text;
}

export function setAttribute(element, name, value) {
  if (value === null || value === undefined || value === false) {
    if (element.hasAttribute(name)) element.removeAttribute(name);
    return;
  }
  const text = value === true ? "" : String(value);
  if (element.getAttribute(name) !== text) element.setAttribute(name, text);
}

export function setClass(element, name, present) {
  if (element.classList.contains(name) !== Boolean(present)) element.classList.toggle(name, Boolean(present));
}

export function show(element, visible) {
  if (element.hidden === Boolean(visible)) element.hidden = !visible;
}

/// Replaces the children only where what they are made of changed. `value` is anything that JSON can write.
export function renderWhenChanged(element, value, build) {
  const key = JSON.stringify(value);
  if (element.builtFrom === key) return false;
  element.builtFrom = key;
  element.replaceChildren(...present([build()].flat(2)));
  return true;
}

/// A field under its label; the label is the field's name for everybody.
export function labelled(text, field, note) {
  return make("label", {class: "field"}, make("span", {text}), field, note && make("small", {text: note}));
}

export function factList(facts) {
  return make("dl", {}, facts.map(([name, value]) => [make("dt", {text: name}), make("dd", {text: value})]));
}

export function linkBeside(href, text) {
  return make("a", {class: "target", href, target: "_blank", rel: "noopener", text});
}

export function button(text, press, options = {}) {
  return make("button", {type: "button", text, on: {click: press}, ...options});
}

export const buttons = (...children) => make("p", {class: "buttons"}, ...children);

/// A table whose first column names its rows. A column is its name, or {name, numeric: true} to stand to the right.
export function table(caption, columns, rows) {
  return make("div", {class: "table-frame", tabindex: "0", role: "region", "aria-label": caption},
    make("table", {}, make("caption", {text: caption}),
      make("thead", {},
        make("tr", {},
          columns.map((column) => make(
                        "th", {scope: "col", class: column.numeric ? "numeric" : null, text: column.name ?? column})))),
      make("tbody", {}, rows.map((row) => make("tr", {class: row.class ?? null}, row.cells.map((cell, i) => {
        const content = typeof cell === "object" && cell !== null ? cell : String(cell ?? "");
        return make(i === 0 ? "th" : "td",
          {scope: i === 0 ? "row" : null, class: columns[i].numeric ? "numeric" : null}, content);
      }))))));
}
