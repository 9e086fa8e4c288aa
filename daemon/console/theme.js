// Before the first paint, so that a dark room stays dark: the choice that this browser remembers, or the system's.
const dark = matchMedia("(prefers-color-scheme: dark)");
let chosen;
try {
  chosen = JSON.parse(localStorage.getItem("stillmark-settings") ?? "{}").theme;
} catch {
  // The system's, then.
}
function showTheme(theme = chosen) {
  chosen = theme;
  document.documentElement.dataset.theme = ["light", "dark"].includes(theme) ? theme : dark.matches ? "dark" : "light";
  dispatchEvent(new Event("themechange"));
}
dark.addEventListener("change", () => showTheme());
showTheme();
