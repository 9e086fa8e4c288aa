// What this browser remembers for its place at the bench; nothing of a run is kept here.

const KEY = "stillmark-settings";

const FIRST = {
  theme: "system",
  /// A foot switch types one key. This one is harmless elsewhere, and many switches come with it.
  footKey: "PageDown",
  onePress: true,
  sound: false,
  plot_s: 120,
  plotOf: "all",
};

export const settings = {
  ...FIRST,
  ...remembered()
};

function remembered() {
  try {
    const found = JSON.parse(localStorage.getItem(KEY) ?? "{}");
    return Object.fromEntries(Object.entries(found).filter(([key, value]) => typeof value === typeof FIRST[key]));
  } catch {
    return {};
  }
}

export function change(key, value) {
  settings[key] = value;
  try {
    localStorage.setItem(KEY, JSON.stringify(settings));
  } catch {
    // A browser without memory has the setting until it is closed.
  }
  if (key === "theme") globalThis.showTheme(value);
}
