// Before the first paint, so that a dark room stays dark: the choice that this browser remembers.
try {
  const theme = JSON.parse(localStorage.getItem("stillmark-settings") ?? "{}").theme;
  if (theme === "light" || theme === "dark") document.documentElement.dataset.theme = theme;
} catch {
  // Without memory the page follows the system.
}
