// Questions before something is written that stays on record, and what would not fit on the page.

import {button, labelled, make} from "./dom.js";

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

/// Asks why; gives the reason, or null where the person thought better of it.
export function askReason(title, explanation, verb) {
  return new Promise((resolve) => {
    let reason = null;
    const field = make("input", {type: "text", maxlength: "200", required: true, autocomplete: "off"});
    const form = make("form", {
      on: {
        submit: (event) => {
          event.preventDefault();
          if (field.value.trim() === "") return field.focus();
          reason = field.value.trim();
          closeDialog();
        }
      }
    },
      make("p", {text: explanation}), labelled("Reason, which stays on record", field),
      make("p", {class: "buttons"}, make("button", {type: "submit", text: verb})));
    openDialog(title, [form], {onClose: () => resolve(reason)});
    field.focus();
  });
}
