// Questions before something is written that stays on record, and what would not fit on the page.

import {button, buttons, labelled, make} from "./dom.js";

const dialog = () => document.getElementById("dialog");

/// Shows `content` until it is closed. `onClose` gets nothing; what was chosen is told by the content's own buttons.
export function openDialog(title, content, {closable = true, onClose} = {}) {
  const place = dialog();
  place.replaceChildren(make("h2", {id: "dialog-title", text: title}), ...content,
    ...(closable ? [make("p", {class: "dialog-end"}, button("Close", closeDialog))] : []));
  place.oncancel = (event) => {
    if (!closable) event.preventDefault();
  };
  place.onclose = () => {
    place.replaceChildren();
    onClose?.();
  };
  if (!place.open) place.showModal();
}

export function closeDialog() {
  if (dialog().open) dialog().close();
}

/// Asks for one text, or with no `label` only whether to go on; gives the text (or true), or null where the person
/// thought better of it.
export function ask(title, explanation, verb, {label, type = "text", least = 1} = {}) {
  return new Promise((resolve) => {
    let answer = null;
    const field =
      label && make("input", {type, maxlength: "200", minlength: least, required: true, autocomplete: "off"});
    const form = make("form", {
      on: {
        submit: (event) => {
          event.preventDefault();
          if (field && field.value.trim() === "") return field.focus();
          answer = field ? field.value.trim() : true;
          closeDialog();
        }
      }
    },
      make("p", {text: explanation}), field && labelled(label, field),
      buttons(make("button", {type: "submit", text: verb})));
    openDialog(title, [form], {onClose: () => resolve(answer)});
    field?.focus();
  });
}

export function askReason(title, explanation, verb) {
  return ask(title, explanation, verb, {label: "Reason, which stays on record"});
}
