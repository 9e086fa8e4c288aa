// Who works at this page.

import {NAME, openDialog} from "./dialogs.js";
import {button, buttons, labelled, make} from "./dom.js";
import {get, post, Refusal, remove} from "./wire.js";

const MAY_PRESS = ["operator", "administrator"];
const MAY_REVIEW = ["reviewer"];

export class Session {
  /// `allowed(yes)`: whether the service lets this page look at anything.
  constructor(place, page, {allowed}) { Object.assign(this, {place, page, allowed, session: null}); }
  get isAdministrator() { return this.session?.user?.roles.includes("administrator") ?? false; }

  async ask() {
    try {
      this.take(await get("/api/session"));
    } catch (trouble) {
      // Not reached: the live connection goes on trying, and asks again each time.
      if (trouble instanceof Refusal && trouble.status === 401)
        this.take({login: "needed", user: null});
      else if (!this.page.needsLogin)
        this.allowed(true);
    }
  }

  take(session) {
    const {page} = this;
    this.session = session;
    page.needsLogin = session.login === "needed" && !session.user;
    const may = (roles) =>
      session.login !== "needed" || (session.user?.roles.some((role) => roles.includes(role)) ?? false);
    page.mayPress = may(MAY_PRESS);
    page.mayReview = may(MAY_REVIEW);
    page.names = session.login === "needed" ? [] : [NAME];
    this.show();
    this.allowed(!page.needsLogin);
    if (page.needsLogin)
      this.demandLogin();
    else {
      this.dialog?.close();
      this.dialog = null;
    }
  }

  show() {
    const {login, user} = this.session;
    if (login !== "needed")
      this.place.replaceChildren("No login: this bench is open to this machine.");
    else if (!user)
      this.place.replaceChildren("Nobody is logged in.");
    else
      this.place.replaceChildren(
        make("span", {text: `${user.name}, ${user.roles.join(", ")} `}), button("Log out", () => this.logOut()));
  }

  demandLogin() {
    if (this.dialog) return;
    const name =
      make("input", {type: "text", autocomplete: "username", autocapitalize: "off", required: true, maxlength: "64"});
    const password =
      make("input", {type: "password", autocomplete: "current-password", required: true, maxlength: "256"});
    const words = make("p", {class: "refusal", role: "status"});
    const send = make("button", {type: "submit", text: "Log in"});
    const form = make("form", {
      "data-typed": true,
      on: {
        submit: async (event) => {
          event.preventDefault();
          send.disabled = true;
          words.textContent = "";
          try {
            const session = await post("/api/session", {name: name.value, password: password.value});
            await (session.login ? this.take(session) : this.ask());
          } catch (trouble) {
            words.textContent = trouble.message;
            password.value = "";
            password.focus();
          }
          send.disabled = false;
        }
      }
    },
      labelled("Name", name), labelled("Password", password), buttons(send), words);
    this.dialog = openDialog("Log in to this bench", [form], {closable: false});
  }

  async logOut() {
    try {
      await remove("/api/session");
    } catch (trouble) {
      this.page.refuse(trouble.message);
    }
    await this.ask();
  }
}
