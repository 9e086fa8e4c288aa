// How this page behaves at its place, and for administrators who may log in.

import {ask} from "./dialogs.js";
import {button, buttons, labelled, make, table} from "./dom.js";
import {change, settings} from "./settings.js";
import {get, post, remove} from "./wire.js";

const ROLES = ["operator", "reviewer", "administrator"];
const keyWords = (key) => (key === " " ? "Space" : key);

export class SettingsView {
  constructor(place, page) { Object.assign(this, {place, page}); }
  render() {}
  open() {
    this.place.replaceChildren(make("h1", {text: "Settings of this page"}),
      make("p", {text: "This browser remembers them. Nothing of a run depends on them."}), this.theme(), this.foot(),
      this.presses(), this.sound());
    if (this.page.session?.isAdministrator) this.people();
  }
  theme() {
    return make("fieldset", {}, make("legend", {text: "Light or dark"}),
      [["system", "As this machine is set"], ["light", "Light"], ["dark", "Dark"]].map(
        ([value, text]) => make("label", {class: "choice"}, make("input", {
          type: "radio",
          name: "theme",
          value,
          checked: settings.theme === value,
          on: {change: () => change("theme", value)}
        }),
          make("span", {text}))));
  }
  foot() {
    const shown = make("output", {text: keyWords(settings.footKey)});
    const learn = button("Learn the key", () => {
      learn.textContent = "Press the foot switch now";
      addEventListener("keydown", (event) => {
        event.preventDefault();
        event.stopImmediatePropagation();
        learn.textContent = "Learn the key";
        // These keys work the page itself.
        if (["Tab", "Escape", "Shift", "Control", "Alt", "Meta"].includes(event.key)) return;
        change("footKey", event.key);
        shown.textContent = keyWords(event.key);
      }, {capture: true, once: true});
    });
    return make("fieldset", {}, make("legend", {text: "Foot switch"}),
      make("p", {}, "The big control is pressed by a tap, by the space bar, and by a foot switch that types the key: ",
        make("b", {}, shown)),
      learn);
  }
  presses() {
    return make("fieldset", {}, make("legend", {text: "Presses at a point"}),
      make("label", {class: "choice"}, make("input", {
        type: "checkbox",
        checked: settings.onePress,
        on: {change: (event) => change("onePress", event.target.checked)}
      }),
        make("span", {text: "One press states the discs and confirms the float"})),
      make("p", {
        class: "hint",
        text: "Two presses at a point instead of three: put the discs on, wind, turn, then press once."
      }));
  }
  sound() {
    return make("fieldset", {}, make("legend", {text: "Sound"}),
      make("label", {class: "choice"},
        make("input",
          {type: "checkbox", checked: settings.sound, on: {change: (event) => change("sound", event.target.checked)}}),
        make("span", {text: "Two tones with each alarm"})));
  }

  async people() {
    const place = make("section", {class: "people"});
    this.place.append(place);
    const again = async () => {
      try {
        place.replaceChildren(...this.peopleParts((await get("/api/users")).users ?? [], again));
      } catch (trouble) {
        place.replaceChildren(make("p", {class: "refusal", text: trouble.message}));
      }
    };
    await again();
  }
  async newPassword(user) {
    const given = await ask(`New password for ${user.name}`, "At least 8 characters. Their sessions end.", "Set it",
      [{key: "password", label: "Password", type: "password", least: 8}]);
    return given && post(`/api/users/${encodeURIComponent(user.name)}/password`, given);
  }
  async removal(user) {
    const sure = await ask(`Remove ${user.name}`, "What was recorded by this name stays on record.", "Remove");
    return sure && remove(`/api/users/${encodeURIComponent(user.name)}`);
  }
  peopleParts(users, again) {
    const doing = (action, said) => async () => {
      try {
        if ((await action()) === null) return;
        this.page.say(said);
      } catch (trouble) {
        this.page.refuse(trouble.message);
      }
      await again();
    };
    const name = make("input", {type: "text", autocomplete: "off", maxlength: "64"});
    const password = make("input", {type: "password", autocomplete: "new-password", maxlength: "256"});
    const roles = ROLES.map((role) => make("input", {type: "checkbox", value: role, checked: role === "operator"}));
    const body = () => ({
      name: name.value.trim(),
      password: password.value,
      roles: roles.filter((box) => box.checked).map((box) => box.value)
    });
    return [
      make("h2", {text: "Who may log in"}), table("People of this bench", ["Name", "Roles", ""], users.map((user) => ({
        cells: [
          user.name, user.roles.join(", "),
          buttons(button("New password", doing(() => this.newPassword(user), `${user.name} has a new password.`),
                    {"aria-label": `New password for ${user.name}`}),
            button("Remove", doing(() => this.removal(user), `${user.name} may not log in any more.`),
              {"aria-label": `Remove ${user.name}`}))
        ]
      }))),
      make("form", {
        class: "start",
        on: {
          submit: (event) => {
            event.preventDefault();
            doing(() => post("/api/users", body()), `${name.value} may log in now.`)();
          }
        }
      },
        make("h3", {text: "Add somebody"}), labelled("Name", name), labelled("Password", password),
        make("fieldset", {}, make("legend", {text: "Roles"}),
          roles.map((box) => make("label", {class: "choice"}, box, make("span", {text: box.value})))),
        buttons(make("button", {type: "submit", text: "Add"})))
    ];
  }
}
