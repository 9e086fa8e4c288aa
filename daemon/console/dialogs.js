// Dialogs over the page: one at a time, each an element of its own, so that a late event of one that was closed
// reaches no other.

import {button, buttons, labelled, make, setText, show} from "./dom.js";

/// The dialog that is shown, or null.
let shown = null;
/// The alarm that no dialog may hide, in words.
let urgent = "";

export const dialogIsOpen = () => shown !== null;

/// Shows `content` over the page; a dialog that is open closes before. Gives {close()}.
/// `closable`: the person may close it; `ownClose`: by a button of `content`; `wide`: over the full width;
/// `onClose()`: called once, however it closed;
/// `focusAfter`: what a keyboard goes on with (by default where it was).
/// While one that is not closable is open (the log-in), no other opens: `onClose` is called at once.
export function openDialog(
  title, content, {closable = true, wide = false, ownClose = false, onClose, focusAfter} = {}) {
  if (shown && !shown.closable) {
    onClose?.();
    return {close() {}};
  }
  shown?.close();
  const heading = make("h2", {id: "dialog-title", tabindex: "-1", text: title});
  const dialog = {closable, alarm: make("p", {class: "alarm", role: "alert", hidden: true})};
  const element = make("dialog", {id: "dialog", class: wide ? "wide" : null, "aria-labelledby": "dialog-title"},
    dialog.alarm, heading, content,
    closable && !ownClose && make("p", {class: "dialog-end"}, button("Close", () => dialog.close())));
  const before = document.activeElement;
  const byKeyboard = before?.matches(":focus-visible");
  dialog.close = () => {
    if (shown !== dialog) return;
    shown = null;
    element.close();
    element.remove();
    if (byKeyboard) focusAfter?.focus();
    onClose?.();
  };
  // A browser closes a dialog by itself where Escape is pressed again and again.
  element.addEventListener("close", () => {
    if (shown !== dialog || element.open) return;
    if (closable) return dialog.close();
    element.showModal();
    first(element, heading).focus();
  });
  element.addEventListener("cancel", (event) => {
    if (!closable) event.preventDefault();
  });
  // What was pressed by a finger gets no focus back: the next space bar is the big control's.
  if (!byKeyboard) before?.blur();
  shown = dialog;
  showAlarm();
  document.body.append(element);
  element.showModal();
  first(element, heading).focus();
  return dialog;
}

/// A dialog begins in its first field; without one at its title, so that a press by habit chooses nothing.
const first = (element, heading) => element.querySelector("form[data-typed] input") ?? heading;

/// `text` stands at the top of whatever dialog is open, now or later; an empty text takes it away.
export function alarmOverDialogs(text) {
  urgent = text;
  if (shown) showAlarm();
}
function showAlarm() {
  setText(shown.alarm, urgent);
  show(shown.alarm, urgent !== "");
}

/// A form that gives its texts, trimmed, by their keys to `submit(texts, event)`; a required one is never empty.
/// `fields`: {key, label, type, least, optional}. `typed`: the dialog begins in the first field.
export function textForm(fields, verb, submit, {typed = true} = {}) {
  const inputs = fields.map(({type = "text", least = 1, optional = false, most = 200}) => {
    const input = make("input", {
      type,
      maxlength: most,
      minlength: optional ? null : least,
      required: !optional,
      autocomplete: type === "password" ? "new-password" : "off",
      on: {input: () => input.setCustomValidity("")}
    });
    return input;
  });
  const send = (event) => {
    event.preventDefault();
    const texts = {};
    for (const [i, {key, label, optional}] of fields.entries()) {
      texts[key] = fields[i].type === "password" ? inputs[i].value : inputs[i].value.trim();
      if (texts[key] !== "" || optional) continue;
      inputs[i].setCustomValidity(`${label}: type it first.`);
      return inputs[i].reportValidity();
    }
    submit(texts, event);
  };
  return make("form", {"data-typed": typed, on: {submit: send}}, fields.map(({label}, i) => labelled(label, inputs[i])),
    buttons(make("button", {type: "submit", text: verb})));
}

/// Asks for texts; gives them by their keys, or null where the person closed the dialog. Without fields it asks only
/// whether to go on.
export function ask(title, explanation, verb, fields = []) {
  return new Promise((resolve) => {
    let answer = null;
    const form = textForm(fields, verb, (texts) => {
      answer = texts;
      dialog.close();
    });
    const dialog =
      openDialog(title, [explanation && make("p", {text: explanation}), form], {onClose: () => resolve(answer)});
  });
}

export const REASON = {
  key: "reason",
  label: "Reason, which stays on record"
};
/// Where nobody logs in, a decision has the name that is typed with it.
export const NAME = {
  key: "by",
  label: "Your name, as it stands on record"
};

export const askReason = (title, explanation, verb, more = []) => ask(title, explanation, verb, [REASON, ...more]);
