// Settings are kept on the phone and shown by attributes of the page; the styles do the rest.

import { change } from "./state.js";
import * as store from "./store.js";

const YEAR = 365 * 24 * 60 * 60;

export function applySettings(settings) {
  const root = document.documentElement;
  if (settings.theme === "phone") delete root.dataset.theme;
  else root.dataset.theme = settings.theme;
  root.dataset.type = settings.type;
  root.dataset.hand = settings.hand;
  root.dataset.motion = settings.motion;
  const theme = settings.theme === "phone" ? "" : settings.theme;
  document.cookie = `theme=${theme}; path=/; max-age=${theme ? YEAR : 0}; samesite=lax`;
  change({ settings });
}

export const saveSettings = (settings) => store.keep("settings", settings);
