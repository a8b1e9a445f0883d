// Starts the small behaviours of the frame. Every page works without them.
import { watchDialogs } from "./dialogs.js";
import { watchMessages } from "./messages.js";
import { watchProgress } from "./progress.js";
import { watchSheets } from "./sheets.js";
import { watchTheme } from "./theme.js";

document.documentElement.classList.add("scripted");
watchDialogs(document);
watchMessages(document);
watchProgress(document);
watchSheets(document);
watchTheme(document);

document.addEventListener("click", (event) => {
  if (event.target.closest("[data-print]")) window.print();
});

const errors = document.querySelector("[data-errors]");
if (errors) errors.focus();
